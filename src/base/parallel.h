/** @file src/base/parallel.h  One task in equal jobs on several threads; on one where the machine has no threads. */
#ifndef BASE_PARALLEL_H
#define BASE_PARALLEL_H

enum { MST_MOST_THREADS = 64 };

/** Calls job(context, index) for every index below @p count, on up to @p threads threads, and returns when all are
 * done. The jobs may run in any order and must not write what another one touches. */
void mst_parallel(int threads, int count, void (*job)(void *context, int index), void *context);
#endif
