"""Transformers on alternating mains: textbook relations, by phasors of the linearised circuit."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from circuits import GROUND, Board
from devices.samples import typical_values
from devices.terms import LonePart

from railwright.devices import kinds
from railwright.devices.inductor import FALL
from railwright.engine.expression import gradient
from railwright.engine.system import slope_matrices, trace

SMALL = "mains transformer 230 V, 2 x 15 V, 30 VA"
MAINS, HERTZ = 230.0, 50.0
PERFECT = {
    "primary_resistance": 1e-6,
    "secondary_resistance": 1e-6,
    "leakage_inductance": 1e-9,
    "magnetising_inductance": 1e6,
    "saturation_current": 1e3,
    "core_resistance": 1e12,
}


def on_the_mains(name: str = SMALL, second: bool = False, **values: float) -> Board:
    """A transformer of the catalogue whose core does not bend, its secondaries still open."""
    pins = {"primary_start": "P", "primary_end": GROUND}
    pins |= {"secondary_start": "A", "secondary_end": "B"}
    if second:
        pins |= {"second_start": "C", "second_end": "D"}
    board = Board().part("V", "mains-source", {"live": "P", "neutral": GROUND}, frequency=HERTZ)
    board.nominal |= {("V", "resistance"): 1e-6, ("V", "voltage"): MAINS, ("V", "phase"): np.pi / 2}
    known = {**typical_values("transformer", name), "saturation_current": 1e3}
    return board.part("T", "transformer", pins, **{**known, **values})


def phasors(board: Board) -> dict[str, complex]:
    """Effective values of all unknowns at the mains frequency, by label."""
    topology = replace(board.topology, isothermal=True)
    system = trace(topology)
    size = len(topology.unknowns)
    known = board.model.parameters(system.parameters, {})
    x, p = np.zeros((size, 1)), np.array([[known[name]] for name in system.parameters], float)
    conductances = slope_matrices(system, x, p)[0]
    storage = np.zeros((size, size))
    for row, amount in system.stored.items():
        for column, slope in gradient(amount).items():
            storage[row, column] = system.graph.evaluate([slope], x, p)[0][0]
    drive = np.array(system.graph.evaluate(system.residuals, x, p))[:, 0]
    found = np.linalg.solve(conductances + 2j * np.pi * HERTZ * storage, -drive) / np.sqrt(2)
    return {u.label: found[i] for i, u in enumerate(topology.unknowns)}


def across(found: dict[str, complex], one: str, other: str) -> complex:
    return found.get(one, 0.0) - found.get(other, 0.0)


def test_a_perfect_one_divides_voltages_and_multiplies_currents_by_its_turns() -> None:
    board = on_the_mains(turns_ratio=10.0, **PERFECT).resistor("R", "A", "B", 5.0)
    found = phasors(board)
    assert across(found, "A", "B") == pytest.approx(MAINS / 10.0, rel=1e-5)
    assert found["T.primary"] == pytest.approx(MAINS / 100.0 / 5.0, rel=1e-5)  # 10^2 x 5 Ω


def test_open_secondary_has_the_unloaded_voltage() -> None:
    """17.3 V by the turns; 0.5 % is lost in the primary to the magnetising current."""
    found = phasors(on_the_mains())
    assert abs(across(found, "A", "B")) == pytest.approx(MAINS / 13.3, rel=0.006)


def test_both_secondaries_at_full_load_give_the_label() -> None:
    """15 V at 1 A each: the regulation of the label, 15 %."""
    board = on_the_mains(second=True).resistor("R", "A", "B", 15.0).resistor("S", "C", "D", 15.0)
    found = phasors(board)
    for pair in ("AB", "CD"):
        assert abs(across(found, *pair)) == pytest.approx(15.0, rel=0.015)
    open_ends = abs(across(phasors(on_the_mains(second=True)), "A", "B"))
    regulation = open_ends / abs(across(found, "A", "B")) - 1.0
    assert regulation == pytest.approx(0.15, abs=0.01)


def test_secondaries_in_series_make_a_centre_tap() -> None:
    board = on_the_mains(second=True).resistor("J", "B", "C", 1e-6).resistor("G", "B", GROUND, 1e-6)
    found = phasors(board)
    assert found["D"] == pytest.approx(-found["A"], rel=1e-6)
    assert abs(across(found, "A", "D")) == pytest.approx(2 * MAINS / 13.3, rel=0.006)


def test_short_circuit_impedance_is_both_resistances_and_the_leakage() -> None:
    shorted = on_the_mains().resistor("R", "A", "B", 1e-4).resistor("G", "B", GROUND, 1e-3)
    found = phasors(shorted)
    omega = 2 * np.pi * HERTZ
    secondary, core = 13.3**2 * 1.13 + 0.05j * omega, 30j * omega
    wanted = 100.0 + 0.05j * omega + secondary * core / (secondary + core)
    assert MAINS / found["T.primary"] == pytest.approx(wanted, rel=1e-3)


def test_idle_current_magnetises_and_heats_the_core() -> None:
    known = typical_values("transformer", SMALL)
    found = phasors(on_the_mains())
    idle, magnetising = found["V.current"], found["T.primary"]
    copper = abs(magnetising) ** 2 * known["primary_resistance"] / MAINS
    assert idle.real == pytest.approx(MAINS / known["core_resistance"] + copper, rel=1e-4)
    reactance = 2 * np.pi * HERTZ * (known["magnetising_inductance"] + 0.05)
    assert -idle.imag == pytest.approx(MAINS / reactance, rel=1e-3)


def test_what_goes_in_is_what_comes_out_and_what_is_lost() -> None:
    board = on_the_mains(second=True).resistor("R", "A", "B", 15.0).resistor("S", "C", "D", 40.0)
    found, known = phasors(board), typical_values("transformer", SMALL)
    given = abs(across(found, "A", "B")) ** 2 / 15.0 + abs(across(found, "C", "D")) ** 2 / 40.0
    lost = abs(found["T.primary"]) ** 2 * known["primary_resistance"]
    for winding in ("T.secondary", "T.second"):
        lost += abs(found[winding]) ** 2 * known["secondary_resistance"]
    lost += MAINS**2 / known["core_resistance"]
    taken = (found["P"] * found["V.current"].conjugate()).real
    assert taken == pytest.approx(given + lost, rel=1e-6)


def test_a_core_loses_its_stated_share_at_the_saturation_current() -> None:
    known = typical_values("transformer", SMALL)
    at = dict.fromkeys(kinds()["transformer"].pins, 0.0) | {"secondary": 0.0, "second": 0.0}
    limit, h = known["saturation_current"], 1e-6

    def flux(current: float) -> float:
        part = LonePart(kinds()["transformer"], known, {**at, "primary": current}).run()
        return float(part.fluxes["secondary"] * known["turns_ratio"])

    slope = (flux(limit + h) - flux(limit - h)) / (2 * h)
    assert slope == pytest.approx((1 - FALL) * known["magnetising_inductance"], rel=1e-4)


def test_mains_are_a_sine_of_the_stated_effective_value() -> None:
    instants = np.linspace(0.0, 0.02, 2001)[:-1]
    values = {"frequency": 50.0, "resistance": 1.0, "voltage": 230.0, "phase": 0.3}
    part = LonePart(kinds()["mains-source"], values, {"live": 0.0, "neutral": 0.0, "current": 0.0})
    part.time = instants
    inner = part.run().zeros["current"]
    assert np.sqrt(np.mean(inner**2)) == pytest.approx(230.0)
    assert inner[0] == pytest.approx(np.sqrt(2) * 230.0 * np.sin(0.3))
    assert inner[1000] == pytest.approx(-inner[0])
