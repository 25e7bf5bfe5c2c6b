"""A diode across the output: what it takes of a coil."""

from __future__ import annotations

import pytest

from railwright.architectures.architecture import Refusal, Unserved
from railwright.architectures.fixed_linear import FixedLinear
from railwright.architectures.guarded import guarded
from railwright.architectures.guards.kick_diode import KickDiode, kick_diode, kick_heat
from railwright.prove.run import prove
from railwright.surveys.depth import QUICK
from tests.architectures.needs import plain, read_sketch, task_of

COIL = plain(
    {
        '"10 %"': '"8 %"',
        'kind = "resistive"': 'kind = "inductive"\ninductance = "50 mH"',
    }
)


def test_the_heat_of_a_coil_that_runs_down() -> None:
    """di/dt = -R i / L from V / R, in small steps."""
    volts, amperes, henries = 12.0, 0.3, 50e-3
    current, heat, step = amperes, 0.0, 1e-6
    while current > 1e-4:
        heat += current**2 * step
        current -= volts / amperes * current / henries * step
    assert kick_heat(volts, amperes, henries) == pytest.approx(heat, rel=1e-3)


def test_a_coil_swings_no_output_below_nil() -> None:
    offer = guarded(FixedLinear(), task_of(COIL))
    assert not isinstance(offer, Refusal), offer.reason
    design = read_sketch(COIL, offer[0])
    (diode,) = (p for p in design.circuit.parts if p.pins.get("anode") == "GND")
    assert diode.pins["cathode"] == "OUT"
    proof = prove(design, depth=QUICK, only=("wiring",), suspecting=False)
    assert {f.verdict for f in proof.findings if f.id == "wiring.kick"} == {"holds"}


def test_a_coil_that_is_too_large_is_told() -> None:
    """150 A of the largest diode survive 0.9 x 93 A²s; 30 A in 50 H at 12 V have 56 kA²s."""
    task = task_of(COIL.replace('"0.3 A"', '"30 A"').replace('"50 mH"', '"50 H"'))
    with pytest.raises(Unserved, match="coil of 50 H"):
        kick_diode(task, task.need.output[0])


def test_other_loads_want_none() -> None:
    assert not KickDiode("main").wanted(task_of(plain({})))
