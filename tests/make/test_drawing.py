"""The drawing says what the circuit is, and nothing on it stands in the way of anything else.

Both are found in the SVG alone: what is joined from the ends of lines, dots and names, what
overlaps from boxes measured in the font.
"""

from __future__ import annotations

import os
import re
import subprocess
import sys
from dataclasses import replace
from functools import cache
from pathlib import Path
from xml.etree import ElementTree

import pytest
from make.any_circuits import Unheard, design_of, drawn

from railwright.circuit.circuit import Circuit, Part
from railwright.circuit.design import read
from railwright.devices import kinds
from railwright.make.drawing import Drawing, drawing, sheet
from railwright.make.drawing.geometry import Box
from railwright.make.drawing.placing import NoRoomError
from railwright.make.drawing.readback import SPACE, joined, seen, wanted
from railwright.make.drawing.routing import routed
from railwright.make.drawing.sheet import NothingToDrawError
from railwright.make.drawing.soundness import flaws
from railwright.make.drawing.symbol import symbol_of

ROOT = Path(__file__).parent.parent.parent
EXAMPLES = sorted(
    path
    for path in (ROOT / "examples").glob("*.toml")
    if "first-board" not in path.stem  # mistakes, and the circuit of another with them
)
KNOB = ROOT / "examples" / "model-shop-knob.toml"
SEEDS = (1, 2, 5, 22)


@cache
def example(path: Path) -> Drawing:
    return drawing(read(path))


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_an_example_is_drawn_as_it_is_joined_and_clear_to_read(path):
    assert flaws(example(path).svg(), read(path).circuit) == []


@pytest.mark.parametrize("seed", SEEDS)
def test_any_circuit_is_drawn_as_it_is_joined_and_clear_to_read(seed):
    circuit = drawn(seed)
    assert flaws(drawing(design_of(circuit)).svg(), circuit) == []


def test_a_kind_without_a_symbol_is_a_box_with_the_names_of_its_pins():
    pins = {"first": "BRICK", "second": "OUT", "third_one": "GND"}
    parts = [Part("X1", "unheard-of", Unheard(), pins, {}, {}, {})]
    resistor = kinds()["resistor"]
    ends = {"one": "OUT", "two": "GND"}
    parts.append(Part("R1", "resistor", resistor, ends, {}, {}, {}))
    circuit = Circuit(tuple(parts))
    text = drawing(design_of(circuit)).svg()
    assert flaws(text, circuit) == []
    assert {"first", "second", "third one"} <= {told for told, _ in seen(text).texts}


@pytest.mark.parametrize("kind", sorted(kinds()))
def test_leads_of_every_symbol_end_outside_of_it_and_apart(kind):
    device = kinds()[kind]
    for pins in ({*device.pins}, {pin for pin, seat in device.pins.items() if not seat.optional}):
        nets = {pin: pin for pin in device.pins if pin in pins}
        symbol = symbol_of(Part("X1", kind, device, nets, {}, {}, {}))
        assert set(symbol.leads) == pins
        tips = [lead.tip for lead in symbol.leads.values()]
        assert len(set(tips)) == len(tips)
        for x, y in tips:
            assert not symbol.body.grown(0.9).meets(Box(x, y, x, y).grown(0.05))


def test_power_goes_from_left_to_right_and_0_v_lies_below():
    found = seen(example(KNOB).svg())
    middles = {ref: (box.left + box.right) / 2 for ref, box in found.bodies.items()}
    order = ["F1", "D1", "U1", "W1", "J1"]
    assert sorted(order, key=lambda ref: middles[ref]) == order
    for part in read(KNOB).circuit.parts:
        if "GND" in part.pins.values() and part.kind == "capacitor":
            (_, plus), (_, minus) = (found.pins[part.ref, pin] for pin in ("plus", "minus"))
            assert minus > plus
    line = max(y for ends in found.wires for _, y in ends)
    assert line > max(box.bottom for ref, box in found.bodies.items() if ref not in ("P1", "H1"))


def test_what_is_read_back_follows_the_lines():
    text = example(KNOB).svg()
    circuit = read(KNOB).circuit
    assert joined(seen(text)) == wanted(circuit)
    found = seen(text)
    ends = [end for wire in found.wires for end in wire]
    alone = {pins[0] for pins in circuit.nets.values() if len(pins) == 1}
    tips = [tip for pin, tip in found.pins.items() if pin not in alone]
    lone = [tip for tip in tips if ends.count(tip) == tips.count(tip) == 1]
    assert len(lone) > 10
    for wire in re.findall(r'<path class="wire" d="[^"]*"/>', text):
        if any(end in lone for end in seen(f'<svg xmlns="{SPACE[1:-1]}">{wire}</svg>').wires[0]):
            assert joined(seen(text.replace(wire, "", 1))) != wanted(circuit)
    spots = [*ends, *found.pins.values()]  # a dot only tells where but one thing ends on a wire
    telling = [dot for dot in found.dots if spots.count(dot) == 1]
    assert len(telling) > 5
    for x, y in telling:
        dot = f'<circle class="dot" cx="{x:g}" cy="{y:g}" r="2.6"/>'
        assert joined(seen(text.replace(dot, "", 1))) != wanted(circuit)


def test_a_flaw_is_found():
    text, circuit = example(KNOB).svg(), read(KNOB).circuit
    found = seen(text)
    (x, y), _ = found.wires[0]
    label = re.search(r'<text class="ref" x="[^"]*" y="[^"]*"', text)
    assert label
    moved = text.replace(label[0], f'<text class="ref" x="{x}" y="{y + 3}"')
    assert any("a wire runs through the text" in flaw for flaw in flaws(moved, circuit))
    one, other = re.findall(r'<text class="ref"( x="[^"]*" y="[^"]*")', text)[:2]
    assert any("overlap" in flaw for flaw in flaws(text.replace(one, other), circuit))
    box = found.bodies["U1"]
    through = f'<path class="wire" d="M{box.left} {box.top + 5}L{box.right} {box.top + 5}"/>'
    spoilt = text.replace("</svg>", f"{through}</svg>")
    assert "a wire runs through U1" in flaws(spoilt, circuit)


def test_parts_and_nets_carry_ids_of_their_own():
    root = ElementTree.fromstring(example(KNOB).svg())
    circuit = read(KNOB).circuit
    parts = {each.get("data-part") for each in root.iter() if each.get("class") == "part"}
    nets = {each.get("data-net") for each in root.iter() if each.get("class") == "net-group"}
    assert parts == {part.ref for part in circuit.parts}
    assert nets == {*circuit.nets, *circuit.thermal_nets}
    ids = [each.get("id") for each in root.iter() if each.get("id")]
    assert len(ids) == len(set(ids)) == len(parts) + len(nets)


def test_voltages_stand_beside_the_names_of_their_nets():
    design = read(KNOB)
    volts = {net: f"{number} V" for number, net in enumerate(sorted(design.circuit.nets), 1)}
    text = drawing(design, volts, at="5 V, 1 A, input 18 V").svg()
    assert "voltages against 0 V at 5 V, 1 A, input 18 V" in text
    assert flaws(text, design.circuit) == []
    root = ElementTree.fromstring(text)
    told = {}
    for each in root.iter(f"{SPACE}text"):
        spans = [span.text or "" for span in each.iter(f"{SPACE}tspan")]
        if len(spans) == 2:
            told[spans[0]] = spans[1].strip()
    assert told == {net: text for net, text in volts.items() if net != "GND"}


def test_the_zig_zag_resistor_is_drawn_where_it_is_asked_for():
    design = read(KNOB)
    iec, ansi = (drawing(design, standard=standard).svg() for standard in ("IEC", "ANSI"))
    zigzag = "M-1.5 0l.25-.6.5 1.2"
    assert zigzag not in iec
    resistors = [p for p in design.circuit.parts if p.kind in ("resistor", "potentiometer")]
    assert ansi.count(zigzag) == len(resistors)
    assert flaws(ansi, design.circuit) == []


def test_a_circuit_without_blocks_and_without_an_input_is_drawn():
    design = read(KNOB)
    parts = tuple(part for part in design.circuit.parts if part.ref in ("R1", "C3", "D2"))
    circuit = Circuit(parts)
    assert flaws(drawing(design_of(circuit)).svg(), circuit) == []


def test_the_same_design_gives_the_same_bytes_whatever_the_order_of_hashes():
    code = (
        "import sys; from railwright.circuit.design import read; "
        "from railwright.make.drawing import drawing; "
        "sys.stdout.buffer.write(drawing(read(sys.argv[1])).svg().encode())"
    )
    environment = {**os.environ, "PYTHONHASHSEED": "7"}
    again = subprocess.run(
        [sys.executable, "-c", code, str(KNOB)], env=environment, capture_output=True, check=True
    )
    assert again.stdout.decode() == example(KNOB).svg()


@pytest.mark.parametrize(("path", "sides"), [(KNOB, (842, 595)), (EXAMPLES[-2], (842, 1191))])
def test_the_pdf_is_on_paper_on_which_it_can_be_read(path, sides):
    """Sides in points of A4 and A3 (ISO 216: 210 x 297 mm, 297 x 420 mm)."""
    data = example(path).pdf()
    assert data.startswith(b"%PDF")
    assert data == example(path).pdf()
    media = re.search(rb"MediaBox\s*\[0 0 ([\d.]+) ([\d.]+)\]", data)
    assert media
    assert tuple(round(float(side)) for side in media.groups()) == sides
    assert b"DejaVuSans" in data


def test_where_no_wire_finds_room_a_name_stands_at_every_pin(monkeypatch):
    def refusing(plan, *others):
        if plan.wired:
            raise NoRoomError("no room")
        return routed(plan, *others)

    monkeypatch.setattr(sheet, "routed", refusing)
    monkeypatch.setattr(sheet, "GAPS", (1, 2))
    circuit = read(KNOB).circuit
    text = drawing(read(KNOB)).svg()
    assert flaws(text, circuit) == []
    assert len(seen(text).flags) > len(seen(example(KNOB).svg()).flags)


def test_a_need_alone_is_not_drawn():
    with pytest.raises(NothingToDrawError, match="no parts yet"):
        drawing(read(ROOT / "examples" / "needs" / "classroom-knob.toml"))


def test_texts_of_a_person_do_no_harm():
    design = read(KNOB)
    long = "a block <b>&amp; \x07 whose title is longer than all that stands in it, by far"
    kept = [part for part in design.circuit.parts if part.ref in ("F1", "C1", "U1", "P1")]
    parts = tuple(replace(part, block=long, use="</text><&") for part in kept)
    odd = replace(design, title='"<title>\x00 & \u2028', circuit=Circuit(parts))
    found = drawing(odd)
    assert flaws(found.svg(), odd.circuit) == []
    assert found.pdf().startswith(b"%PDF")
