"""What would be wrong with the documents of a supply, found in their files as others read them.

Tables are read as a spreadsheet does, drawings from their geometry, the template by measuring its
bar; what they have to say comes from the circuit alone.
"""

from __future__ import annotations

import csv
import io
import re
from collections import Counter
from collections.abc import Iterator, Mapping
from xml.etree import ElementTree

import ezdxf

from railwright.circuit.circuit import Circuit
from railwright.make import every
from railwright.make.drawing.soundness import flaws
from railwright.make.written import Made

FILES = {
    *("report.html", "report.pdf", "schematic.svg", "schematic.pdf"),
    *("bill-of-materials.csv", "connections.csv", "wires.csv", "harness.csv"),
    *("panel.svg", "panel.pdf", "panel.dxf"),
}
BAR, OFF = 100.0, 0.1
"""mm of the bar by which one sees whether a printer scaled, and by how much it may be off."""
NUMBER = r"(-?\d+(?:\.\d+)?)"
ELSEWHERE = re.compile(r"(?:src|href|url|@import)\s*[=(]?\s*[\"']?(?:https?:)?//")
"""What a browser would fetch from a network."""


def wrong(made: Made, circuit: Circuit) -> list[str]:
    """Sentences on what is wrong; none where all documents are sound."""
    absent = sorted(FILES - made.files.keys())
    if absent:
        reasons = [f"{name}: {reason}" for name, reason in made.unmade.items()]
        return [f"not there: {', '.join(absent)}", *reasons]
    return [
        *(f"{name}: {reason}" for name, reason in made.unmade.items()),
        *_report(made.files),
        *flaws(made.files["schematic.svg"].decode(), circuit),
        *_bill(rows(made.files["bill-of-materials.csv"]), circuit),
        *_connections(made.files, circuit),
        *_template(made.files),
    ]


def rows(content: bytes) -> list[dict[str, str]]:
    """What another program reads from a table."""
    return list(csv.DictReader(io.StringIO(content.decode("utf-8-sig"), newline="")))


def lines_of_pdf(content: bytes) -> list[float]:
    """Lengths of level lines, in millimetres, of the page's own coordinates."""
    found = re.findall(rf"n {NUMBER} {NUMBER} m {NUMBER} {NUMBER} l S", content.decode("latin-1"))
    return [(float(x2) - float(x1)) * 25.4 / 72 for x1, y1, x2, y2 in found if y1 == y2]


def lines_of_svg(content: bytes) -> list[float]:
    """Lengths of level lines, in millimetres of the drawing's own size."""
    drawing = ElementTree.fromstring(content)
    width = float(drawing.get("width", "").removesuffix("mm"))
    unit = width / float(drawing.get("viewBox", "").split()[2])
    ends = [(float(e.get("x1", 0)), float(e.get("x2", 0))) for e in drawing if e.get("x1")]
    return [(end - start) * unit for start, end in ends]


def lines_of_dxf(content: bytes) -> list[float]:
    """Lengths of lines along the first axis; empty where the drawing's unit is no millimetre."""
    drawing = ezdxf.read(io.StringIO(content.decode()))  # type: ignore[attr-defined]
    if drawing.header["$INSUNITS"] != 4:  # millimetres, DXF reference
        return []
    return [e.dxf.end.x - e.dxf.start.x for e in drawing.modelspace().query("LINE")]


def _report(files: Mapping[str, bytes]) -> Iterator[str]:
    page = files["report.html"].decode()
    for document in every():
        if f"<h1>{document.name}</h1>" not in page:
            yield f"the report has no {document.name}"
    if ELSEWHERE.search(page):
        yield "the report fetches something from a network"
    if not files["report.pdf"].startswith(b"%PDF"):
        yield "report.pdf is no PDF"


def _bill(lines: list[dict[str, str]], circuit: Circuit) -> Iterator[str]:
    refs = Counter(ref for line in lines for ref in line["refs"].split())
    if refs != Counter(part.ref for part in circuit.parts):
        yield f"the bill has other parts than the circuit: {sorted(refs)}"
    # Units of one package share its ref, with a letter behind.
    packages = {re.sub(r"(?<=\d)[A-Z]$", "", part.ref) for part in circuit.parts}
    pieces = sum(int(line["quantity"]) for line in lines)
    if pieces != len(packages):
        yield f"the bill has {pieces} pieces, the circuit {len(packages)}"


def _connections(files: Mapping[str, bytes], circuit: Circuit) -> Iterator[str]:
    listed = Counter((r["net"], r["ref"], r["pin"]) for r in rows(files["connections.csv"]))
    nets = circuit.nets
    if listed != Counter((net, *end) for net, ends in nets.items() for end in ends):
        yield "the connection list is another circuit"
    wires = Counter(row["net"] for row in rows(files["wires.csv"]))
    if wires != Counter({net: len(ends) - 1 for net, ends in nets.items() if len(ends) > 1}):
        yield "the wires do not join every net once"


def _template(files: Mapping[str, bytes]) -> Iterator[str]:
    for ending, lines in (("svg", lines_of_svg), ("pdf", lines_of_pdf), ("dxf", lines_of_dxf)):
        if not any(abs(length - BAR) <= OFF for length in lines(files[f"panel.{ending}"])):
            yield f"panel.{ending} has no bar of {BAR:g} mm"
