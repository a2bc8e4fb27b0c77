/* The program's entry: the one place that looks at the environment. */
#include "cli/cli.h"
#include <locale.h>
#include <pwd.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

/* The folder of the built page: beside an installed program, or in the tree that it was built in. */
static const char *page_folder(char *room, size_t size) {
    static const char *const PLACES[] = {"/../share/merestone/web", "/../web/dist"};
    char program[3000];
    ssize_t length = readlink("/proc/self/exe", program, sizeof program - 1);
    if (length <= 0) return "web/dist";
    program[length] = '\0';
    char *slash = strrchr(program, '/');
    if (slash) *slash = '\0';
    for (size_t i = 0; i < sizeof PLACES / sizeof *PLACES; i++) {
        snprintf(room, size, "%s%s", program, PLACES[i]);
        if (access(room, R_OK) == 0) return room;
    }
    return room;
}

/* Who works: as they say, else the login name. */
static const char *worker(void) {
    const char *who = getenv("MERESTONE_WHO");
    if (!who || !*who) who = getenv("USER");
    if (!who || !*who) who = getenv("LOGNAME");
    if (who && *who) return who;
    const struct passwd *entry = getpwuid(getuid());
    return entry && entry->pw_name ? entry->pw_name : "";
}

int main(int count, char *words[]) {
    char room[3100];
    setlocale(LC_ALL, "C.UTF-8");
    setlocale(LC_NUMERIC, "C");
    char today[16];
    time_t now = time(NULL);
    struct tm local;
    if (!localtime_r(&now, &local) || strftime(today, sizeof today, "%Y-%m-%d", &local) == 0) today[0] = '\0';
    cli_context context = {
        .today = today, .who = worker(), .web_root = page_folder(room, sizeof room), .out = stdout, .err = stderr};
    return cli_run(count, words, &context);
}
