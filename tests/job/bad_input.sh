#!/usr/bin/env bash
# Bad input changes nothing: every kind of page with every slip of the pen, files that are no pages, files that are no
# site, a folder that cannot be written, a full disk. Each gets one sentence with its place, and the site file stays.
. "$(dirname "$0")/steps.bash"
need sqlite3 awk node

# A good header and rows for each kind of page; the first cell with a unit is what gets spoilt.
declare -A HEADER ROWS
HEADER[control]='point,easting (m),northing (m),elevation (m)'; ROWS[control]='A,1,2,3;B,10,2,3'
HEADER[points]='point,easting (m),northing (m),elevation (m),code'; ROWS[points]='A,1,2,3,tree;B,10,2,3,'
HEADER[tape]='from,to,distance (m),slope'; ROWS[tape]='A,B,9,no;A,C,5,yes'
HEADER[bearings]='from,to,bearing (dms),distance (m)'; ROWS[bearings]='A,B,90-00-00,9;A,C,45-30-00,5'
HEADER[angles]='at,to,circle (dms),zenith (dms),slope distance (m)'; ROWS[angles]='A,B,0-00-00,90-00-00,9;A,C,45-00-00,90-00-00,5'
HEADER[levels]='point,backsight (m),intermediate (m),foresight (m)'; ROWS[levels]='A,1.5,,;B,,1.2,;C,,,1.1'
HEADER[heights]='from,to,difference (m),length (m)'; ROWS[heights]='A,B,0.5,20;B,C,0.3,20'
HEADER[offsets]='from,to,chainage (m),offset (m),point,code'; ROWS[offsets]='A,B,3,1,W1,pipe;A,B,5,1,W2,pipe'
HEADER[legs]='from,to,dx (m),dy (m),dz (m),time (s)'; ROWS[legs]='A,B,9,0,0,8;B,C,1,5,0,8'
HEADER[gnss]='point,latitude (deg),longitude (deg),height (m)'; ROWS[gnss]='A,50.1,8.1,100;B,50.1,8.2,100'
HEADER[features]='feature,kind,code,point,edge,role'; ROWS[features]='bed,area,bed,A,,;bed,area,bed,B,,;bed,area,bed,C,,'
HEADER[stakes]='stake,easting (m),northing (m),elevation (m)'; ROWS[stakes]='S1,1,2,3;S2,10,2,3'
HEADER[built]='point,easting (m),northing (m),elevation (m)'; ROWS[built]='S1,1,2,3;S2,10,2,3'
HEADER[prices]='item,unit,code,measure,depth (m),rate'; ROWS[prices]='turf,m2,lawn,area,,5;kerb,m,kerb,length,,9'
KINDS="control points tape bearings angles levels heights offsets legs gnss features stakes built prices"

# page KIND > file: header and rows; further arguments are awk statements on each line (NR, $1 ...).
page() { printf '%s\n' "${HEADER[$1]}"; printf '%s\n' "${ROWS[$1]}" | tr ';' '\n'; }
spoil() { page "$1" | awk -F, -v OFS=, "$2 { print }"; }
# The column of the first cell with a unit, from 1; 0 where the page has none.
unit_column() { echo "${HEADER[$1]}" | awk -F, '{ for (i = 1; i <= NF; i++) if ($i ~ /\(/) { print i; exit } print 0 }'; }

dump() { sqlite3 "$1" .dump; }
dump_of_site() { dump site.gpkg >"$1" || bad "the site cannot be dumped"; }
unchanged() { # WHAT
  dump_of_site after
  if cmp -s before after; then good; else bad "$1: the site has changed: $(diff before after | head -n 3)"; cp after before; fi
}
# spoilt WHAT KIND PATTERN [ARGUMENTS]: page.csv must be refused with FILE:ROW:COLUMN: and a sentence; the site stays.
spoilt() {
  local what="$2, $1" kind=$2 pattern=$3; shift 3
  refuses "$what" 2 "^page.csv:[0-9]+:[0-9]+: .*\\.\$" import site.gpkg page.csv --as "$kind" "$@"
  if head -n 1 err | grep -Eq -- "$pattern"; then good; else bad "$what: said: $(cat err)"; fi
  same "$what: lines on standard error" "$(wc -l <err)" 1
  unchanged "$what"
}

does "new" new site.gpkg --title "Test"
printf 'point,easting (m),northing (m),elevation (m)\nA,0,0,10\nB,10,0,10\nC,10,10,11\nD,0,10,11\n' >base.csv
does "base" import site.gpkg base.csv --as control
dump_of_site before

# ---- every kind of page ----
yes '1,2,3,4,5,6,7,8,9,10,11,12,13,14,15' | head -c 100000000 >large
for kind in $KINDS; do
  at=$(unit_column $kind)
  : >page.csv; spoilt "an empty file" $kind '1:1: The file is empty'
  printf '\xEF\xBB\xBF' >page.csv; spoilt "a mark and nothing else" $kind 'empty'
  printf '\n\n  \n,,\n' >page.csv; spoilt "blank lines" $kind 'empty'
  echo "${HEADER[$kind]}" >page.csv; spoilt "a header alone" $kind 'no rows'
  head -c 5000 "$program" >page.csv; spoilt "a binary file" $kind 'not a text file|not UTF-8'
  page $kind | iconv -t UTF-16 >page.csv; spoilt "UTF-16" $kind 'UTF-16'
  { page $kind; printf 'caf\xe9,1\n'; } >page.csv; spoilt "another encoding" $kind "page.csv:$(($(page $kind | wc -l) + 1)):1: .*not UTF-8"
  { page $kind; printf 'a\0b\n'; } >page.csv; spoilt "a zero byte" $kind 'not a text file'
  ln -f large page.csv; spoilt "100 MB" $kind 'has 95 MB; a field page holds at most 64 MB'
  rm page.csv
  page $kind | tr ',' ';' >page.csv; spoilt "semicolons" $kind 'page.csv:1:1: .*not separated by commas'
  spoil $kind 'NR == 1 { $0 = $0 ",colour" }' >page.csv; spoilt "an unknown column" $kind "page.csv:1:$(page $kind | awk -F, 'NR == 1 { print NF + 1 }'): .*'colour' is not known"
  page $kind | cut -d, -f2- >page.csv; spoilt "a missing column" $kind "page.csv:1:1: .*needs a column"
  spoil $kind 'NR == 1 { $NF = $1 }' >page.csv; spoilt "a column twice" $kind 'page.csv:1:[0-9]+: .*stands twice'
  spoil $kind 'NR == 2 { $1 = "\"" $1 }' >page.csv; spoilt "a quote that stays open" $kind 'never closed'
  spoil $kind 'NR == 2 { $0 = $0 ",,5" }' >page.csv; spoilt "a cell too many" $kind 'page.csv:2:[0-9]+: .*more cells than the header'
  spoil $kind 'NR == 2 { $1 = "" }' >page.csv; spoilt "an empty name" $kind "page.csv:2:1: .*is empty"
  [ "$at" = 0 ] && continue
  spoil $kind "NR == 1 { sub(/ \\(.*/, \"\", \$$at) }" >page.csv; spoilt "no unit" $kind "page.csv:1:$at: .*has no unit"
  spoil $kind "NR == 1 { sub(/\\(.*/, \"(yards)\", \$$at) }" >page.csv; spoilt "an unknown unit" $kind "page.csv:1:$at: 'yards' is not a unit"
  for value in NaN nan inf -Infinity 1e999 0x10 twelve 'one two' '--1' '1.2.3'; do
    spoil $kind "NR == 2 { \$$at = \"$value\" }" >page.csv
    spoilt "'$value' for a number" $kind "page.csv:2:$at: "
  done
  spoil $kind "NR == 2 { \$$at = \"\\\"1,5\\\"\" }" >page.csv; spoilt "a decimal comma" $kind "page.csv:2:$at: "
done

# ---- places and readings that cannot be ----
for kind in control points stakes built; do
  spoil $kind 'NR == 3 { $2 = "1e9" }' >page.csv; spoilt "a point far away" $kind 'page.csv:3:2: easting 1e9 is farther away'
  spoil $kind 'NR == 3 { $4 = "99999" }' >page.csv; spoilt "a level beyond any mountain" $kind 'page.csv:3:4: elevation 99999 is beyond'
  { page $kind; page $kind | sed -n 2p; } >page.csv; spoilt "a point twice" $kind "page.csv:4:1: .*stands twice, here and in row 2"
  spoil $kind 'NR == 2 { $3 = "" }' >page.csv; spoilt "half a place" $kind 'page.csv:2:3: '
done
for kind in tape bearings angles heights offsets legs; do
  spoil $kind 'NR == 2 { $2 = $1 }' >page.csv; spoilt "a reading to itself" $kind "page.csv:2:2: .*from 'A' to itself"
done
spoil tape 'NR == 2 { $3 = "-3" }' >page.csv; spoilt "a negative length" tape "page.csv:2:3: .*more than 0"
spoil tape 'NR == 2 { $3 = "1e9" }' >page.csv; spoilt "a tape of 1e9 m" tape "page.csv:2:3: .*100 km"
spoil tape 'NR == 2 { $4 = "perhaps" }' >page.csv; spoilt "neither yes nor no" tape "page.csv:2:4: .*neither yes nor no"
spoil bearings 'NR == 2 { $3 = "90-60-00" }' >page.csv; spoilt "60 minutes" bearings "page.csv:2:3: .*60 or more"
spoil gnss 'NR == 3 { t = $2; $2 = $3; $3 = t }' >page.csv; spoilt "latitude and longitude exchanged" gnss "page.csv:3:1: .*too far from the rest .*may be exchanged"
spoil gnss 'NR == 2 { $2 = "91" }' >page.csv; spoilt "a latitude of 91" gnss "page.csv:2:2: .*between -90 and 90"
spoil levels 'NR == 2 { $2 = ""; $3 = "1" }' >page.csv; spoilt "no backsight first" levels "page.csv:2:[0-9]+: .*starts with a backsight"
spoil prices 'NR == 2 { $4 = "weight" }' >page.csv; spoilt "an unknown measure" prices "page.csv:2:4: .*is one of"
printf 'point,easting (ftin),northing (m)\nA,12,5\n' >page.csv; spoilt "feet and inches without marks" points "page.csv:2:2: .*marks"

# ---- features ----
printf 'feature,kind,code,point,edge,role\n%s' $'bow,area,bed,A,,\nbow,area,bed,C,,\nbow,area,bed,B,,\nbow,area,bed,D,,\n' >page.csv
spoilt "an area that crosses itself" features "page.csv:2:1: Feature 'bow' crosses itself"
printf 'feature,kind,code,point,edge,role\nr,area,bed,A,,\nr,line,bed,B,,\n' >page.csv; spoilt "two kinds in one" features "page.csv:3:1: .*kind"
printf 'feature,kind,code,point,edge,role\nr,area,bed,A,,\nr,area,bed,B,,\n' >page.csv; spoilt "an area of two points" features "page.csv:2:1: .*needs at least 3"
printf 'feature,kind,code,point,edge,role\nr,line,bed,A,,\nr,line,bed,B,arc,\n' >page.csv; spoilt "an arc without an end" features "page.csv:3:1: .*has no end"
printf 'feature,kind,code,point,edge,role\nr,line,bed,A,,\nr,line,bed,A,,\n' >page.csv; spoilt "a point twice in a row" features "page.csv:3:1: .*twice in a row"

# ---- taken in all the same, and said ----
printf '\xEF\xBB\xBFfrom,to,distance (m)\r\nA,B,10.001\nB,C,10.002\rC,D,9.999\r\n' >ends.csv
does "a mark and mixed line ends" import site.gpkg ends.csv --as tape --json
cp out ends.json
same "rows" "$(number ends.json rows)" 3
case $(number ends.json notes) in *"byte-order mark"*"line ends are mixed"*) good ;; *) bad "notes: $(number ends.json notes)" ;; esac
dump_of_site before
cp ends.csv page.csv
refuses "the same page twice" 2 "^ends.csv:1:1: .*in the site already" import site.gpkg ends.csv --as tape
unchanged "the same page twice"
name=$(printf 'q%.0s' {1..90})$(printf '\xC3\xA9%.0s' {1..40}).csv
printf 'from,to,distance (m)\nA,C,14.14\n' >"$name"
does "a long name with accents" import site.gpkg "$name" --as tape --json
does "history" history site.gpkg --json
if node -e 'const h = JSON.parse(require("fs").readFileSync("out")).changes; process.exit(h.at(-1).why.startsWith("Take in qqq") ? 0 : 1)'; then good; else bad "the history lost the long name: $(tail -c 300 out)"; fi
dump_of_site before

# ---- the command line ----
run; same "no words at all" "$status" 2
refuses "an unknown command" 2 "There is no command 'dig'" dig site.gpkg
refuses "an unknown option" 2 "'colour' is not an argument" ground site.gpkg --colour red
refuses "an option without its value" 2 "needs a value" import site.gpkg base.csv --as
refuses "a word too many" 2 "one word too many" ground site.gpkg now
refuses "no site" 2 "site file is missing" ground
refuses "an unknown page" 2 "There is no page 'tapes'" import site.gpkg base.csv --as tapes
page tape >tape.csv
refuses "an unknown gear" 2 "There is no gear 'string'" import site.gpkg tape.csv --as tape --gear string
refuses "no page named" 2 "--as" import site.gpkg base.csv
refuses "a page that is not there" 2 "^gone.csv:1:1: .*cannot be opened" import site.gpkg gone.csv --as tape
refuses "a folder as a page" 2 "^[^:]*:1:1: " import site.gpkg . --as tape
refuses "an unknown feature" 2 "There is no feature 'pond'" measure site.gpkg pond
refuses "an unknown setting of units" 2 "metric or imperial" set site.gpkg units furlongs
refuses "works that are no JSON" 2 "[.]\$" works site.gpkg --file base.csv
printf '[{"name":"x","kind":"pad","in":"pond","level":"1"}]' >works.json
refuses "works in no feature" 2 "pond" works site.gpkg --file works.json
refuses "a level that is no number" 2 "level" volume site.gpkg --level high
refuses "a contour interval of 0" 2 "interval" contours site.gpkg --interval 0
refuses "an unknown format" 2 "[.]\$" export site.gpkg --to dwg -o x.dwg
refuses "an unknown paper" 2 "[.]\$" draw site.gpkg --paper Z9 -o x.pdf
refuses "an unknown ending" 2 "[.]\$" draw site.gpkg -o x.doc
refuses "a scale of -5" 2 "[.]\$" draw site.gpkg --scale -5 -o x.pdf
refuses "outside the ground" 1 "[.]\$" elevation site.gpkg 500 500
for f in x.dwg x.pdf x.doc; do [ -e $f ] && bad "$f was left behind"; done
unchanged "the command line"

# ---- what is no site ----
foreign() { # WHAT PATTERN: the file `foreign` is not a site; it stays as it is to the byte
  [ -d foreign ] || cp foreign kept
  for command in "ground foreign" "import foreign base.csv --as control" "undo foreign"; do
    refuses "$1, ${command%% *}" 2 "^foreign:1:1: .*$2" $command
  done
  [ -d foreign ] || if cmp -s foreign kept; then good; else bad "$1: the file was changed"; fi
  rm -rf foreign
}
refuses "a missing site" 2 "^gone.gpkg:1:1: .*no such file" ground gone.gpkg
[ -e gone.gpkg ] && bad "a missing site was made"
: >foreign; foreign "an empty file as a site" "empty"
cp base.csv foreign; foreign "a CSV as a site" "not a site file"
head -c 20000 "$program" >foreign; foreign "a program as a site" "not a site file"
sqlite3 foreign 'CREATE TABLE t(a); INSERT INTO t VALUES(1);'; foreign "another database as a site" "not a site file"
mkdir foreign; foreign "a folder as a site" "folder"
head -c 60000 site.gpkg >foreign; foreign "half a site" "cut short"
{ head -c 4096 site.gpkg; head -c 100000 /dev/zero; } >foreign
refuses "a site of zeros" 2 "^foreign:1:1: " ground foreign; rm foreign
refuses "new over an old one" 2 "[.]\$" new site.gpkg
unchanged "new over an old one"

# ---- where nothing can be written ----
refuses "an output folder that is not there" 3 "[.]\$" export site.gpkg --to csv -o nowhere/points.csv
refuses "a sheet into a folder that is not there" 3 "[.]\$" draw site.gpkg -o nowhere/plan.pdf
refuses "a site in a folder that is not there" 2 "There is no folder" new nowhere/site.gpkg
[ -e nowhere ] && bad "a folder was made"
if [ -e /dev/full ]; then
  "$program" adjust site.gpkg --json >/dev/full 2>err
  same "standard output full" "$?" 3
fi
as_nobody() { "$@"; }
[ "$(id -u)" = 0 ] && as_nobody() { setpriv --reuid 65534 --regid 65534 --clear-groups "$@"; }
mkdir -p fixed
cp site.gpkg base.csv fixed/
cp "$program" fixed/program
chmod 755 "$work" fixed/program
chmod 644 fixed/site.gpkg
chmod 555 fixed
if as_nobody fixed/program --version >/dev/null 2>&1; then
  as_nobody fixed/program import fixed/site.gpkg fixed/base.csv --as points >/dev/null 2>err; status=$?
  same "a change in a read-only folder: $(head -c 200 err)" "$status" 3
  same "its sentence" "$(wc -l <err)" 1
  as_nobody fixed/program ground fixed/site.gpkg >/dev/null 2>err; status=$?
  same "a look at a site in a read-only folder: $(head -c 200 err)" "$status" 0
  as_nobody fixed/program export fixed/site.gpkg --to csv -o fixed/points.csv >/dev/null 2>err; status=$?
  same "an export into a read-only folder: $(head -c 200 err)" "$status" 3
  as_nobody fixed/program new fixed/other.gpkg >/dev/null 2>err; status=$?
  same "a new site in a read-only folder: $(head -c 200 err)" "$status" 3
  if cmp -s site.gpkg fixed/site.gpkg; then good; else bad "a read-only site was changed"; fi
else echo "   read-only folder: not tried, nobody cannot run the program here"; fi
chmod 755 fixed

mkdir small
if [ "$(id -u)" = 0 ] && mount -t tmpfs -o size=600k none small 2>/dev/null; then
  trap 'umount small 2>/dev/null; rm -rf "$work"' EXIT
  cp site.gpkg small/
  awk 'BEGIN { print "point,easting (m),northing (m),elevation (m)"; for (i = 0; i < 9000; i++) printf "N%d,%d,%d,%.2f\n", i, i % 95, i / 95, i % 7 }' >many.csv
  dump small/site.gpkg >before_full
  refuses "a page onto a full disk" 3 "[.]\$" import small/site.gpkg many.csv --as points --frame site
  dump small/site.gpkg >after_full
  if cmp -s before_full after_full; then good; else bad "a full disk changed the site"; fi
  does "the site still opens" ground small/site.gpkg
  head -c 10000000 /dev/zero >small/fill 2>/dev/null
  refuses "a sheet onto a full disk" 3 "[.]\$" draw small/site.gpkg -o small/plan.pdf
  refuses "an export onto a full disk" 3 "[.]\$" export small/site.gpkg --to dxf -o small/site.dxf
  [ -z "$(ls small | grep -v -e '^fill$' -e '^site.gpkg$')" ] && good || bad "left on the full disk: $(ls small)"
  umount small
else echo "   full disk: not tried, no small file system can be mounted here"; fi
finish
