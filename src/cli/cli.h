/** @file src/cli/cli.h  The command line: words in, one operation, text or JSON out. It computes nothing. */
#ifndef CLI_CLI_H
#define CLI_CLI_H
#include "merestone/operations.h"
#include <stdio.h>

/** Runs one command. @param who  the person for the history, or "". @return the exit status of the program */
int cli_run(int count, char *const words[], const char *who, FILE *out, FILE *err);

/** How figures are written for people. */
typedef struct cli_printer {
    FILE *out;
    bool imperial;
} cli_printer;
typedef void cli_print(const cli_printer *to, const json_t *result);

/** @return the printer of a command's result, or NULL: then it is printed as JSON. */
cli_print *cli_printer_of(const char *operation);
#endif
