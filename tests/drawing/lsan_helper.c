/* fontconfig keeps 288 bytes of its defaults until the process ends; it never grows (libfontconfig 2.14). */
const char *__lsan_default_suppressions(void);
const char *__lsan_default_suppressions(void) { return "leak:libfontconfig\n"; }
