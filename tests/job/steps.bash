# What the job's scripts share: tests/job/NAME.sh PROGRAM SOURCE_FOLDER works in a folder of its own, counts what
# fails, and says it. Sourced with the script's own arguments.
set -u
export LC_ALL=C MERESTONE_WHO=ann
program=$(realpath "$1")
source=$(realpath "$2")
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
cd "$work"
# Under the sanitizers: a fault is no answer of the program, and what the font library keeps is its own.
export ASAN_OPTIONS="${ASAN_OPTIONS:-}:exitcode=99" LSAN_OPTIONS="suppressions=$source/tests/support/leaks.txt:print_suppressions=0:exitcode=99"
checks=0
failed=0

skip() { echo "skipped: $1"; exit 77; }
need() { for tool in "$@"; do command -v "$tool" >/dev/null || skip "$tool is not installed"; done; }
good() { checks=$((checks + 1)); }
bad() { checks=$((checks + 1)); failed=$((failed + 1)); echo "FAIL: $1"; }
finish() { echo "$checks checks, $failed failed"; [ "$failed" = 0 ]; exit; }

# run ARGUMENTS: the program; leaves its status, and what it said in the files out and err.
run() { "$program" "$@" >out 2>err; status=$?; }
# does WHAT ARGUMENTS: the program must end well.
does() {
  local what=$1; shift
  run "$@"
  if [ "$status" = 0 ]; then good; else bad "$what: exit $status from merestone $*: $(head -c 300 err)"; fi
}
# refuses WHAT STATUS PATTERN ARGUMENTS: the program must end with that status and one sentence that fits the pattern.
refuses() {
  local what=$1 wanted=$2 pattern=$3; shift 3
  run "$@"
  if [ "$status" != "$wanted" ]; then bad "$what: exit $status instead of $wanted from merestone $*: $(head -c 300 err)"
  elif ! head -n 1 err | grep -Eq -- "$pattern"; then bad "$what: said: $(head -c 400 err)"
  else good; fi
}
# passes WHAT COMMAND: another program that must end well.
passes() {
  local what=$1; shift
  if "$@"; then good; else bad "$what"; fi
}
same() { if [ "$2" = "$3" ]; then good; else bad "$1: $2 instead of $3"; fi; }
number() { node -e 'const v = process.argv[2].split(".").reduce((o, k) => o?.[k], JSON.parse(require("fs").readFileSync(process.argv[1]))); console.log(v)' "$1" "$2"; }
# near WHAT GOT WANTED TOLERANCE
near() {
  if awk -v a="$2" -v b="$3" -v t="$4" 'BEGIN { d = a - b; exit !(a != "" && a == a + 0 && (d < 0 ? -d : d) <= t) }'; then good
  else bad "$1: $2 instead of $3 within $4"; fi
}
