#!/bin/bash
# The published layers as independent programs see them: GDAL's ogrinfo and its GeoPackage validator (OGC 12-128
# requirements), with GDAL's own geometry for lengths of arcs. Its area of a curve polygon is approximate, so areas are
# compared loosely. Skipped (77) where they are not installed.
set -eu
program=$1
maker=$(dirname "$program")/tests/test_site_file_layers
command -v ogrinfo >/dev/null && command -v sqlite3 >/dev/null || exit 77
/usr/bin/python3 -c 'import osgeo_utils.samples.validate_gpkg' 2>/dev/null || exit 77
folder=$(mktemp -d)
trap 'rm -rf "$folder"' EXIT
file=$folder/sample.gpkg
export LSAN_OPTIONS=detect_leaks=0
"$maker" write "$file"

fail() { echo "FAILED: $1"; exit 1; }
expect() { grep -qF -- "$2" <<<"$1" || { echo "$1"; fail "expected: $2"; }; }

said=$(/usr/bin/python3 -m osgeo_utils.samples.validate_gpkg --extra --warning-as-error "$file" 2>&1) || { echo "$said"; fail "the validator refuses the file"; }
grep -qi 'error\|warning' <<<"$said" && { echo "$said"; fail "the validator complains"; }

layer() { ogrinfo -ro -so "$file" "$1" 2>&1; }
one=$(layer points)
expect "$one" "Geometry: 3D Point"
expect "$one" "Feature Count: 3"
expect "$one" "Extent: (990.000000, 1990.250000) - (1010.500000, 2010.000000)"
expect "$one" "elevation_m: Real"
expect "$one" "DESCRIPTION=derived at revision 2; do not edit"
expect "$one" "Undefined Cartesian SRS"
one=$(layer lines)
expect "$one" "Geometry: 3D Compound Curve"
expect "$one" "Feature Count: 2"
expect "$one" "Extent: (0.000000, 0.000000) - (20.000000, 20.000000)"
one=$(layer areas)
expect "$one" "Geometry: 3D Curve Polygon"
expect "$one" "Feature Count: 2"
expect "$one" "Extent: (-50.000000, -50.000000) - (60.000000, 70.000000)"
one=$(layer spots)
expect "$one" "Feature Count: 2"
one=$(layer contours)
expect "$one" "Geometry: 3D Line String"
expect "$one" "Feature Count: 2"
one=$(layer triangles)
expect "$one" "Geometry: 3D Polygon"
expect "$one" "Feature Count: 2"
expect "$(ogrinfo -ro -so -al "$file" 2>&1)" "Layer name: site_reading"

# What GDAL measures on the curves against what was published with them.
/usr/bin/python3 - "$file" <<'PYTHON'
import sys
from osgeo import ogr
ogr.UseExceptions()
source = ogr.Open(sys.argv[1])
for feature in source.GetLayerByName("lines"):
    length = feature.GetGeometryRef().Length()
    assert abs(length - feature["length_m"]) < 1e-9, (feature["name"], length)
    assert "CIRCULARSTRING" in feature.GetGeometryRef().ExportToIsoWkt()
for feature in source.GetLayerByName("areas"):
    area = feature.GetGeometryRef().GetArea()
    assert abs(area - feature["area_m2"]) < 1e-3 * area, (feature["name"], area)
    assert feature.GetGeometryRef().IsValid(), feature["name"]
levels = {f["name"]: (f.GetGeometryRef().Is3D(), f.GetGeometryRef().GetZ()) for f in source.GetLayerByName("points")}
assert levels["P1"] == (1, 3.125) and not levels["P2"][0], levels
for feature in source.GetLayerByName("contours"):
    g = feature.GetGeometryRef()
    assert g.GetZ(0) == feature["elevation_m"]
    assert (g.GetX(0) == g.GetX(g.GetPointCount() - 1)) == bool(feature["closed"])
PYTHON

# GDAL hangs its index and its counts on a layer; the next publishing and the next reading still agree.
ogrinfo "$file" -sql "SELECT CreateSpatialIndex('points', 'geom')" >/dev/null 2>&1 || true
[ "$(sqlite3 "$file" "SELECT count(*) FROM sqlite_master WHERE type = 'trigger' AND tbl_name = 'points'")" -gt 0 ] || fail "no index was made, so nothing is shown"
"$maker" again "$file"
expect "$(layer points)" "Feature Count: 3"
said=$(/usr/bin/python3 -m osgeo_utils.samples.validate_gpkg --extra --warning-as-error "$file" 2>&1) || { echo "$said"; fail "the validator refuses the file published again"; }
[ "$(sqlite3 "$file" 'PRAGMA integrity_check; PRAGMA foreign_key_check;')" = ok ] || fail "the file is not sound"
# In ten years, with nothing but an SQLite shell: what was typed, and who did what.
sqlite3 "$file" .schema | grep -q 'exactly as typed' || fail "the tables do not say what they hold"
