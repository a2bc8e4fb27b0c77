"""Reads a DXF with ezdxf (strict, audit must be clean) and lists what it holds, one line an entity, arcs as centre and radius."""
import sys
import ezdxf
from ezdxf.math import bulge_to_arc

document = ezdxf.readfile(sys.argv[1])
auditor = document.audit()
if auditor.errors or auditor.fixes:
    sys.exit("audit: " + "; ".join(e.message for e in auditor.errors + auditor.fixes))
print("INSUNITS", document.header["$INSUNITS"])
for e in document.modelspace():
    layer = e.dxf.layer
    if e.dxftype() == "LWPOLYLINE":
        points = list(e.get_points("xyb"))
        print("LWPOLYLINE", layer, "closed" if e.closed else "open", len(points), repr(e.dxf.elevation))
        for i, (x, y, bulge) in enumerate(points):
            if bulge and (e.closed or i + 1 < len(points)):
                end = points[(i + 1) % len(points)]
                centre, start, stop, radius = bulge_to_arc((x, y), end[:2], bulge)
                print("ARC", layer, repr(centre.x), repr(centre.y), repr(radius))
    elif e.dxftype() == "POLYLINE":
        print("POLYLINE", layer, "closed" if e.is_closed else "open", e.get_mode(), len(e.vertices), *(repr(v.dxf.location.z) for v in e.vertices))
    elif e.dxftype() == "POINT":
        print("POINT", layer, *(repr(c) for c in e.dxf.location))
    elif e.dxftype() == "TEXT":
        print("TEXT", layer, e.dxf.text)
    elif e.dxftype() == "3DFACE":
        print("3DFACE", layer, *(repr(c) for k in range(3) for c in e.dxf.get(f"vtx{k}")))
    else:
        print(e.dxftype(), layer)
