"""Strict structural lint of an AC1015 ASCII DXF: unique handles, pointers that lead somewhere, HANDSEED above all, table counts,
owners and subclass marks of entities, sections in order, layers declared. Readers that are lenient prove less."""
import sys

text = open(sys.argv[1], encoding="cp1252", newline="").read().split("\r\n")
assert text[-1] == "", "the last line must end with CR LF"
tags = [(int(text[i]), text[i + 1]) for i in range(0, len(text) - 1, 2)]
errors, handles, pointers, seed, kind = [], {}, [], None, None
sections, layers, used = [], set(), set()
for n, (code, value) in enumerate(tags):
    if code == 0:
        kind = value
    before = tags[n - 1]
    if code == 2 and before == (0, "SECTION"):
        sections.append(value)
    if (code == 5 and kind != "DIMSTYLE" and before != (9, "$HANDSEED")) or (code == 105 and kind == "DIMSTYLE"):
        if value in handles:
            errors.append("handle twice: " + value)
        handles[value] = kind
    if before == (9, "$HANDSEED"):
        seed = int(value, 16)
    if code in (330, 340, 350, 360, 390):
        pointers.append((code, value, kind))
    if code == 2 and kind == "LAYER" and before == (100, "AcDbLayerTableRecord"):
        layers.add(value)
    if code == 8:
        used.add(value)
for code, value, kind in pointers:
    if value != "0" and value not in handles:
        errors.append(f"{kind}: group {code} leads to {value}, which is not there")
if sections != ["HEADER", "CLASSES", "TABLES", "BLOCKS", "ENTITIES", "OBJECTS"]:
    errors.append("sections " + " ".join(sections))
if seed is None or seed <= max(int(h, 16) for h in handles):
    errors.append("HANDSEED")
if tags[-1] != (0, "EOF"):
    errors.append("EOF")
errors += ["layer not declared: " + name for name in used - layers]

# each table holds as many records as it says
table, records = None, 0
for n, (code, value) in enumerate(tags):
    if code == 0 and value == "TABLE":
        table, records, stated = tags[n + 1][1], 0, None
    elif code == 0 and value == "ENDTAB":
        if stated != records:
            errors.append(f"table {table} says {stated} and holds {records}")
        table = None
    elif table and code == 0:
        records += 1
    elif table and code == 70 and stated is None:
        stated = int(value)

# each entity: handle, owner, AcDbEntity, layer, subclass
at = tags.index((2, "ENTITIES"))
entity = []
for tag in tags[at + 1:]:
    if tag[0] == 0:
        if entity and entity[0][1] != "ENDSEC":
            codes = [c for c, _ in entity]
            marks = [v for c, v in entity if c == 100]
            if codes[1] != 5 or codes[2] != 330 or marks[:1] != ["AcDbEntity"] or 8 not in codes:
                errors.append("entity without handle, owner, mark or layer: " + entity[0][1])
            if entity[0][1] != "SEQEND" and len(marks) < 2:
                errors.append("entity without subclass: " + entity[0][1])
            if entity[0][1] == "LWPOLYLINE":
                stated = next(int(v) for c, v in entity if c == 90)
                if stated != codes.count(10) or stated < 2:
                    errors.append("LWPOLYLINE vertex count")
        if tag[1] == "ENDSEC":
            break
        entity = []
    entity.append(tag)
print(len(handles), "handles", len(pointers), "pointers", "OK" if not errors else errors)
sys.exit(1 if errors else 0)
