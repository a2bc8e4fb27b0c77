#!/usr/bin/env bash
# The page in a browser against the real program: the story, typing, two pages and a dying server. Arguments: program,
# source folder. The whole suite, with looks and pace, is `npm run story` in web/. Exit 77: nothing to try it with.
set -euo pipefail
program=$(realpath "$1")
cd "$2/web"
export CHROMIUM=${CHROMIUM:-/usr/bin/chromium}
for needed in node_modules/.bin/playwright dist/index.html "$CHROMIUM"; do
  [ -e "$needed" ] || { echo "skipped: $needed is not there"; exit 77; }
done
node -e 'process.exit(Number(process.versions.node.split(".")[0]) >= 20 ? 0 : 1)' || { echo "skipped: node is older than 20"; exit 77; }
# Two at a time: nothing here is timed. What is timed, and every light, is in `npm run story`.
MERESTONE_PROGRAM=$program node_modules/.bin/playwright test story terrace entry bad together --grep-invert thousand --workers=2 --reporter=line
