"""Plugs that are put in: how high the input rings, and what keeps that from the parts."""

from __future__ import annotations

import math

import numpy as np
import pytest

from railwright.architectures.architecture import Refusal, Sketch
from railwright.architectures.fixed_linear import FixedLinear
from railwright.architectures.guarded import guarded
from railwright.architectures.guards.plug_in import PlugIn
from railwright.architectures.sheet import Sheet
from railwright.architectures.sizing.plug_in import peak
from railwright.architectures.step_down import StepDown
from railwright.prove.run import prove
from railwright.surveys.depth import DEFAULT
from tests.architectures.needs import plain, read_sketch, task_of

VOLTS = '"16 V", nominal = "17 V", max = "17.5 V"'


ASKED = ("transient.hot-plug",)


def need(henries: str, ohms: str = "20 mΩ") -> str:
    """12 V from 20 to 24 V behind a cable."""
    return plain(
        {
            '"17 V", nominal = "18 V", max = "19 V"': '"20 V", nominal = "22 V", max = "24 V"',
            '"10 %"': '"8 %"',
            'resistance = "100 mΩ"': f'resistance = "{ohms}"\ncable_inductance = "{henries}"',
            '"0.3 A"': '"0.15 A"',
        }
    )


def sketch(kind: FixedLinear | StepDown, text: str) -> Sketch:
    offer = guarded(kind, task_of(text))
    assert not isinstance(offer, Refusal), offer.reason
    return offer[0]


@pytest.mark.parametrize("ohms", [0.02, 0.2, 0.4])
def test_one_branch_rings_by_the_closed_form(ohms: float) -> None:
    """V (1 + exp(-pi z / sqrt(1 - z²))), z = R/2 sqrt(C / L), any textbook; 5 mΩ in series."""
    z = 0.5 * (ohms + 5e-3) * math.sqrt(10e-6 / 1e-6)
    wanted = 20.0 * (1.0 + math.exp(-math.pi * z / math.sqrt(1.0 - z * z)))
    assert peak(20.0, 1e-6, ohms, ((10e-6, 0.0),)) == pytest.approx(wanted, rel=5e-3)


def test_branches_ring_as_their_equations_in_small_steps() -> None:
    branches = (47e-6, 0.2), (10e-6, 1.0)
    current, volts, step, highest = 0.0, np.zeros(2), 2e-8, 0.0
    farads, series = (np.array(column) for column in zip(*branches, strict=True))
    for _ in range(20_000):
        seen = (current + np.sum(volts / series)) / np.sum(1.0 / series)
        highest = max(highest, seen)
        current += step / 10e-6 * (20.0 - 0.05 * current - seen)
        volts = volts + step * (seen - volts) / series / farads
    assert peak(20.0, 10e-6, 0.05, branches) == pytest.approx(highest, rel=5e-3)


def test_a_linear_one_gets_a_resistor_in_series_with_its_reservoir() -> None:
    """Without it 47 µF rings beyond the 35 V of a 7812 type; with it the proof holds."""
    text = need("60 µH")
    guarded_one = sketch(FixedLinear(), text)
    assert peak(24.0, 60e-6, 0.02, ((47e-6, 0.24),)) > 35.0
    design = read_sketch(text, guarded_one)
    proof = prove(design, depth=DEFAULT, only=ASKED, suspecting=False)
    assert {f.verdict for f in proof.findings if f.id in ASKED} <= {"holds"}
    circuit = read_sketch(text, guarded_one).circuit
    (damps,) = (p for p in circuit.parts if "DAMPED" in p.pins.values() and p.kind == "resistor")
    assert set(damps.pins.values()) == {"DAMPED", "GND"}


def test_a_step_down_keeps_its_reservoir_and_gets_a_damper_beside() -> None:
    circuit = read_sketch(need("60 µH"), sketch(StepDown(), need("60 µH"))).circuit
    damper = [p for p in circuit.parts if "DAMPED" in p.pins.values()]
    assert sorted(p.kind for p in damper) == ["capacitor", "resistor"]
    assert circuit.part("C1").pins["minus"] == "GND"


def test_a_suppressor_where_it_holds_what_the_parts_bear() -> None:
    """20 V stand off; it breaks through from 22.2 V to 24.5 V and holds 32.4 V at 18.5 A. 47 µF
    and 60 µH ring at 1.03 Ω to 34 V: 11.5 A, 24.5 V x 1.017 + 7.9 V x 11.5/18.5 = 29.8 V."""
    text = need("60 µH").replace('"20 V", nominal = "22 V", max = "24 V"', VOLTS)
    task = task_of(text + '\n[need.parts]\nderating = "none"\n')
    sheet = Sheet()
    sheet.add("F", "fuse", "input", {"one": "IN", "two": "RAW"}, "by hand", use="fuse T 1 A")
    pins = {"plus": "RAW", "minus": "GND"}
    use = "electrolytic 47 µF 50 V low-ESR"
    sheet.add("C", "capacitor", "input", pins, "by hand", use=use)
    pins = {"input": "RAW", "output": "OUT", "ground": "GND"}
    sheet.add("U", "fixed-regulator", "regulator", pins, "by hand", use="7812 type 1 A")
    *_, suppressor = PlugIn().around(task, Sketch(tuple(sheet.parts))).parts
    assert suppressor["use"] == "suppressor 20 V 600 W"
    assert suppressor["pins"] == {"anode": "GND", "cathode": "RAW"}


def test_a_short_cable_wants_nothing() -> None:
    text = need("1 µH", "100 mΩ")
    bare = FixedLinear().offer(task_of(text))
    assert not isinstance(bare, Refusal)
    assert len(sketch(FixedLinear(), text).parts) == len(bare[0].parts)
    assert not PlugIn().wanted(task_of(plain({})))
