/** @file src/cli/cli.h  The command line: words in, one operation, text or JSON out. It computes nothing. */
#ifndef CLI_CLI_H
#define CLI_CLI_H
#include "merestone/operations.h"
#include <stdio.h>

/** What the world around the command line gives it. */
typedef struct cli_context {
    const char *who;      /**< the person for the history, or "" */
    const char *web_root; /**< folder of the built page */
    FILE *out, *err;
} cli_context;

/** Runs one command. @return the exit status of the program */
int cli_run(int count, char *const words[], const cli_context *context);

/** How figures are written for people. */
typedef struct cli_printer {
    FILE *out;
    bool imperial;
} cli_printer;
typedef void cli_print(const cli_printer *to, const json_t *result);

/** @return the printer of a command's result, or NULL: then it is printed as JSON. */
cli_print *cli_printer_of(const char *operation);
#endif
