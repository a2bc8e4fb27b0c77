/** @file src/cli/cli.h  The command line: words in, one operation, text or JSON out. It computes nothing. */
#ifndef CLI_CLI_H
#define CLI_CLI_H
#include "merestone/operations.h"
#include <stdio.h>

/** What the world around the command line gives it. */
typedef struct cli_context {
    const char *who;      /**< the person for the history, or "" */
    const char *today;    /**< YYYY-MM-DD, for what leaves the job with a date */
    const char *web_root; /**< folder of the built page */
    FILE *out, *err;
} cli_context;

/** Runs one command. @return the exit status of the program */
int cli_run(int count, char *const words[], const cli_context *context);

/** Serves the page until it is told to stop. @return the exit status */
int cli_serve(const char *site, const json_t *arguments, const cli_context *context);
/** Says a refusal as file:row:column: sentence. @return its exit status */
int cli_refuse(const mst_error *error, FILE *err);

/** How figures are written for people. */
typedef struct cli_printer {
    FILE *out;
    bool imperial;
} cli_printer;
typedef void cli_print(const cli_printer *to, const json_t *result);

/** @return the printer of a command's result, or NULL: then it is printed as JSON. */
cli_print *cli_printer_of(const char *operation);
#endif
