/* The program's door: see cli.h. */
int main(void) { return 0; }
