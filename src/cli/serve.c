/* The one place where the command line starts the other door. */
#include "cli/cli.h"
#include "http/serve.h"

int cli_serve(const char *site, const json_t *arguments, const cli_context *context) {
    mst_error error = {0};
    double port = 0;
    const char *text = json_string_value(json_object_get(arguments, "port")),
               *root = json_string_value(json_object_get(arguments, "web"));
    if (text && (!mst_number_read(text, &port) || port < 1 || port > 65535 || port != (int)port)) {
        fprintf(context->err, "merestone: A port is a whole number from 1 to 65535.\n");
        return 2;
    }
    mst_serve_options options = {.site = site,
                                 .port = (int)port,
                                 .open = json_is_true(json_object_get(arguments, "open")),
                                 .out = context->out,
                                 .web_root = root ? root : context->web_root};
    return mst_serve(&options, &error) ? cli_refuse(&error, context->err) : 0;
}
