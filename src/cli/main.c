/* The program's entry: the one place that looks at the environment. */
#include "cli/cli.h"
#include <locale.h>
#include <stdlib.h>

int main(int count, char *words[]) {
    setlocale(LC_ALL, "C.UTF-8");
    setlocale(LC_NUMERIC, "C");
    const char *who = getenv("MERESTONE_WHO");
    if (!who) who = getenv("USER");
    return cli_run(count, words, who ? who : "", stdout, stderr);
}
