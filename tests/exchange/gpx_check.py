"""GPX 1.1 rules: namespace, version, order wpt rte trk, latitude and longitude on every place. GDAL must open it too."""
import sys
import xml.etree.ElementTree as tree

ns = "{http://www.topografix.com/GPX/1/1}"
root = tree.parse(sys.argv[1]).getroot()
assert root.tag == ns + "gpx" and root.get("version") == "1.1" and root.get("creator")
order = [c.tag[len(ns):] for c in root]
assert order == sorted(order, key=["wpt", "rte", "trk"].index), "elements out of order"
for place in root.iter():
    if place.tag in (ns + "wpt", ns + "trkpt"):
        assert -90 <= float(place.get("lat")) <= 90 and -180 <= float(place.get("lon")) < 180
for w in root.findall(ns + "wpt"):
    print("wpt", w.find(ns + "name").text, w.get("lat"), w.get("lon"))
for t in root.findall(ns + "trk"):
    print("trk", t.find(ns + "name").text, *(len(s) for s in t.findall(ns + "trkseg")))
from osgeo import ogr
ogr.UseExceptions()
source = ogr.Open(sys.argv[1])  # the layer lives only as long as its source
print("GDAL", source.GetLayerByName("waypoints").GetFeatureCount())
