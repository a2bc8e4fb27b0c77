/** @file src/cli/sheets.h  The survey's sheets, ruled as the trade rules them, for people and as CSV. */
#ifndef CLI_SHEETS_H
#define CLI_SHEETS_H
#include "cli/cli.h"

cli_print cli_print_adjust, cli_print_traverse, cli_print_levels, cli_print_rounds, cli_print_two_peg,
    cli_print_fit_visits;
/** The same sheets as CSV: one header row, then one row a line; what has no value is empty. */
cli_print cli_csv_traverse, cli_csv_levels;

#endif
