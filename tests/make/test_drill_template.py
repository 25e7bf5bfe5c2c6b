"""The drill template, read back from its files and measured."""

from __future__ import annotations

import io
import re
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from xml.etree import ElementTree

import ezdxf
import pytest
from make.jobs import EXAMPLES, job_of

from railwright.circuit.design import Design, read
from railwright.circuit.schema import Enclosure, PanelItem
from railwright.make.document import Unmakeable
from railwright.make.drill_template import DrillTemplate
from railwright.make.panel.pdf import LONG, MARGIN, OVERLAP, SHORT, pdf, sheets
from railwright.make.panel.placed import Panel, panel_of

DESIGN = read(EXAMPLES[-1])
NUMBER = r"(-?\d+(?:\.\d+)?)"


def stated(*items: tuple[str, float, float], size: tuple[float, float] = (160.0, 70.0)) -> Design:
    """The demo's design with items at places in a box of a size, in millimetres."""
    panel = tuple(PanelItem(item, (right / 1e3, up / 1e3)) for item, right, up in items)
    box = Enclosure(size[0] / 1e3, size[1] / 1e3, 0.12)
    return replace(DESIGN, panel=panel, enclosure=box)


TERMINALS = [("terminal, 4 mm", 30.0, 20.0), ("terminal, 4 mm", 55.0, 20.0)]


def files(design: Design) -> dict[str, bytes]:
    return dict(DrillTemplate().files(replace(job_of(EXAMPLES[-1]), design=design)))


def circles_of_svg(content: bytes) -> list[tuple[float, float, float]]:
    """Right, up from the lower left corner of the panel, diameter [mm]."""
    drawing = ElementTree.fromstring(content)
    lines = [e for e in drawing if e.get("class") == "edge"]
    left = min(float(line.get("x1", "")) for line in lines)
    bottom = max(float(line.get("y1", "")) for line in lines)
    return [
        (float(e.get("cx", "")) - left, bottom - float(e.get("cy", "")), 2 * float(e.get("r", "")))
        for e in drawing
        if e.tag.endswith("circle")
    ]


def circles_of_dxf(content: bytes) -> list[tuple[float, float, float]]:
    drawing = ezdxf.read(io.StringIO(content.decode()))  # type: ignore[attr-defined]
    found = drawing.modelspace().query('CIRCLE[layer=="CUT"]')
    return [(c.dxf.center.x, c.dxf.center.y, 2 * c.dxf.radius) for c in found]


def lines_of_pdf(content: bytes) -> list[float]:
    """Lengths of level lines, in millimetres, of the page's own coordinates."""
    found = re.findall(rf"n {NUMBER} {NUMBER} m {NUMBER} {NUMBER} l S", content.decode("latin-1"))
    return [(float(x2) - float(x1)) * 25.4 / 72 for x1, y1, x2, y2 in found if y1 == y2]


def test_holes_stand_where_the_design_has_them_in_every_format() -> None:
    made = files(stated(*TERMINALS))
    wanted = [(30.0, 20.0, 8.0), (55.0, 20.0, 8.0)]
    for found in (circles_of_svg(made["panel.svg"]), circles_of_dxf(made["panel.dxf"])):
        assert [pytest.approx(each, abs=1e-3) for each in wanted] == sorted(found)


def test_the_bar_measures_100_mm_in_every_format() -> None:
    made = files(stated(*TERMINALS))
    drawing = ElementTree.fromstring(made["panel.svg"])
    # The drawing's size in millimetres is that of its coordinates: one of them is 1 mm.
    box = drawing.get("viewBox", "").split()
    assert [f"{box[2]}mm", f"{box[3]}mm"] == [drawing.get("width"), drawing.get("height")]
    in_svg = [float(e.get("x2", "")) - float(e.get("x1", "")) for e in drawing if e.get("x1")]
    assert any(length == pytest.approx(100.0, abs=0.01) for length in in_svg)
    space = ezdxf.read(io.StringIO(made["panel.dxf"].decode()))  # type: ignore[attr-defined]
    assert space.header["$INSUNITS"] == 4  # millimetres, DXF reference
    in_dxf = [e.dxf.end.x - e.dxf.start.x for e in space.modelspace().query("LINE")]
    assert any(length == pytest.approx(100.0, abs=0.01) for length in in_dxf)
    assert any(
        length == pytest.approx(100.0, abs=0.05) for length in lines_of_pdf(made["panel.pdf"])
    )


def test_items_that_collide_are_refused_with_how_far() -> None:
    with pytest.raises(Unmakeable, match=r"overlap by 6\.0 mm"):
        panel_of(stated(("terminal, 4 mm", 30.0, 20.0), ("terminal, 4 mm", 40.0, 20.0)))


def test_an_item_at_the_edge_is_refused() -> None:
    with pytest.raises(Unmakeable, match=r"within 2\.0 mm of the edge"):
        panel_of(stated(("terminal, 4 mm", 10.0, 20.0)))


def test_an_unknown_item_and_a_missing_box_are_told() -> None:
    with pytest.raises(Unmakeable, match="no panel item"):
        panel_of(stated(("gizmo", 30.0, 20.0)))
    with pytest.raises(Unmakeable, match=r"Write \[enclosure\]"):
        panel_of(replace(stated(*TERMINALS), enclosure=None))


def test_what_stands_on_a_panel_is_arranged_where_the_design_says_nothing() -> None:
    panel = panel_of(DESIGN)
    assert panel.is_arranged
    assert sorted(each.label for each in panel.items) == [
        "",  # a socket for the brick, for which the circuit has no part
        "F1",
        "J1",
        "J2",
        "RV1",
        "S1",
    ]
    assert {each.label: each.does for each in panel.items}["RV1"] == "main voltage"


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_every_example_has_a_panel_with_an_end_for_every_rail(path: Path) -> None:
    design = read(path)
    panel = panel_of(design)
    assert pdf(panel).startswith(b"%PDF")
    told = {each.does for each in panel.items}
    for output in design.need.output:
        assert output.nets is not None
        assert {output.nets.plus, output.nets.minus} <= told


def panel_of_size(width: float, height: float) -> Panel:
    return Panel("Wide", width, height, (), is_arranged=False)


@pytest.mark.parametrize(("width", "height"), [(0.1, 0.1), (0.26, 0.1), (0.44, 0.13), (0.6, 0.4)])
def test_sheets_cover_the_panel_and_have_enough_in_common(width: float, height: float) -> None:
    found = sheets(panel_of_size(width, height))
    for sheet in found:
        assert (sheet.width, sheet.height) in ((LONG, SHORT), (SHORT, LONG))
        assert sheet.tile[0] <= sheet.width - 2 * MARGIN + 1e-9
    lefts = sorted({sheet.left for sheet in found})
    tile = found[0].tile
    assert lefts[0] == 0.0
    assert lefts[-1] + tile[0] == pytest.approx(width)
    for one, other in pairwise(lefts):
        assert one + tile[0] - other >= OVERLAP - 1e-9
    bottoms = sorted({sheet.bottom for sheet in found})
    assert bottoms[-1] + tile[1] == pytest.approx(height)


def test_a_wide_panel_has_two_sheets_with_a_bar_on_each() -> None:
    content = pdf(panel_of_size(0.44, 0.13))
    assert content.count(b"/Type /Page\n") + content.count(b"/Type /Page ") == 2
    bars = [x for x in lines_of_pdf(content) if x == pytest.approx(100.0, abs=0.05)]
    assert len(bars) == 2
