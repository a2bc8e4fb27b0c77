"""Opens the workbook as what it is (zip of XML), works its formulas out again with a small calculator of its own, and compares with the
values stored beside them. Prints the estimate's amounts. Rules of the functions: their published meaning (ECMA-376 part 1, from memory)."""
import math
import re
import sys
import xml.etree.ElementTree as tree
import zipfile

ns = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"
book = zipfile.ZipFile(sys.argv[1])
assert book.testzip() is None
names = [s.get("name") for s in tree.fromstring(book.read("xl/workbook.xml")).iter(ns + "sheet")]
strings = ["".join(t.text or "" for t in si.iter(ns + "t")) for si in tree.fromstring(book.read("xl/sharedStrings.xml"))]
cells, stored = {}, {}
for k, sheet in enumerate(names):
    for c in tree.fromstring(book.read(f"xl/worksheets/sheet{k + 1}.xml")).iter(ns + "c"):
        f, v = c.find(ns + "f"), c.find(ns + "v")
        key = (sheet, c.get("r"))
        if f is not None:
            cells[key], stored[key] = "=" + f.text, float(v.text)
        elif v is not None:
            cells[key] = strings[int(v.text)] if c.get("t") == "s" else float(v.text)

def half_up(x, digits):
    scale = 10 ** int(digits)
    return math.copysign(math.floor(abs(x) * scale + 0.5 + 1e-9), x) / scale
def up(x, digits):
    return math.ceil(x * 10 ** int(digits)) / 10 ** int(digits)
def value(sheet, name):
    found = cells.get((sheet, name), 0.0)
    if isinstance(found, str):
        return work_out(sheet, found[1:]) if found.startswith("=") and (sheet, name) in stored else 0.0
    return found
def work_out(sheet, formula):
    def total(m):
        column, first, last = m.group(1), int(m.group(2)), int(m.group(4))
        return "(" + "+".join(f"value({sheet!r},'{column}{r}')" for r in range(first, last + 1)) + ")"
    formula = re.sub(r"SUM\(([A-Z])(\d+):([A-Z])(\d+)\)", total, formula)
    formula = re.sub(r"(?<!')\b(?:(\w+)!)?([A-Z]\d+)\b(?!')", lambda m: f"value({m.group(1) or sheet!r},'{m.group(2)}')".replace(f"value({m.group(1)},", f"value({m.group(1)!r},"), formula)
    return eval(formula, {"value": value, "ROUND": half_up, "ROUNDUP": up, "SUM": sum})
for (sheet, name), number in stored.items():
    again = work_out(sheet, cells[(sheet, name)][1:])
    assert abs(again - number) <= 1e-6 * max(1, abs(number)), f"{sheet}!{name}: {again} is not {number}"
print("sheets", *names, "formulas", len(stored))
row = 2
while (("Estimate", f"A{row}") in cells):
    print("line", cells[("Estimate", f"A{row}")], "|", cells.get(("Estimate", f"D{row}")), "|", stored.get(("Estimate", f"E{row}")))
    row += 1
