/* The seam to POSIX threads. Define MST_NO_THREADS, or build for WebAssembly, to do without. */
#include "base/parallel.h"

#if defined(MST_NO_THREADS) || defined(__wasm__)

void mst_parallel(int threads, int count, void (*job)(void *context, int index), void *context) {
    (void)threads;
    for (int i = 0; i < count; i++) job(context, i);
}

#else
#include <pthread.h>
#include <stdatomic.h>
#include <stddef.h>

typedef struct task {
    atomic_int next;
    int count;
    void (*job)(void *context, int index);
    void *context;
} task;

static void *work(void *argument) {
    task *t = argument;
    for (int i; (i = atomic_fetch_add(&t->next, 1)) < t->count;) t->job(t->context, i);
    return NULL;
}

void mst_parallel(int threads, int count, void (*job)(void *context, int index), void *context) {
    task t = {0, count, job, context};
    pthread_t others[MST_MOST_THREADS];
    int wanted = threads < count ? threads : count, started = 0;
    if (wanted > MST_MOST_THREADS) wanted = MST_MOST_THREADS;
    /* a thread that cannot be started leaves its jobs to the others */
    while (started < wanted - 1 && pthread_create(&others[started], NULL, work, &t) == 0) started++;
    work(&t);
    for (int i = 0; i < started; i++) pthread_join(others[i], NULL);
}
#endif
