"""RFC 7946 rules that can be checked on the file alone; prints one line a feature. GDAL must open it too."""
import json
import sys

def refuse(pairs):
    keys = [k for k, _ in pairs]
    assert len(keys) == len(set(keys)), "a member twice"
    return dict(pairs)

doc = json.load(open(sys.argv[1], encoding="utf-8"), object_pairs_hook=refuse, parse_constant=lambda c: sys.exit("not a number: " + c))
assert doc["type"] == "FeatureCollection" and "crs" not in doc
geographic = doc["merestone"]["frame"] == "WGS 84"
assert geographic or "warning" in doc["merestone"]

def area(ring):
    x0, y0 = ring[0][:2]
    return sum((a[0] - x0) * (b[1] - y0) - (b[0] - x0) * (a[1] - y0) for a, b in zip(ring, ring[1:])) / 2

def positions(c):
    return [c] if not isinstance(c[0], list) else [p for part in c for p in positions(part)]

for f in doc["features"]:
    assert f["type"] == "Feature" and isinstance(f["properties"], dict)
    g = f["geometry"]
    for p in positions(g["coordinates"]):
        assert 2 <= len(p) <= 3 and all(isinstance(v, (int, float)) for v in p)
        assert not geographic or (len(p) == 2 and abs(p[0]) <= 180 and abs(p[1]) <= 90)
    if g["type"] == "Polygon":
        for k, ring in enumerate(g["coordinates"]):
            assert len(ring) >= 4 and ring[0] == ring[-1], "an open or short ring"
            assert (area(ring) > 0) == (k == 0), "a ring runs the wrong way"
    elif g["type"] == "LineString":
        assert len(g["coordinates"]) >= 2
    print(g["type"], f["properties"]["kind"], json.dumps(f["properties"].get("name"), ensure_ascii=False), *(repr(v) for v in positions(g["coordinates"])[0]))
from osgeo import ogr
ogr.UseExceptions()
source = ogr.Open(sys.argv[1])  # the layer lives only as long as its source
layer = source.GetLayer(0)
assert layer.GetFeatureCount() == len(doc["features"])
print("GDAL", layer.GetFeatureCount())
