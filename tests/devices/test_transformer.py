"""Transformers on alternating mains: textbook relations, by phasors of the linearised circuit."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest
from circuits import GROUND, Board
from devices.samples import typical_values
from devices.terms import LonePart
from scipy.optimize import brentq

from railwright.catalogue.loader import load
from railwright.devices import kinds
from railwright.devices.inductor import FALL
from railwright.devices.transformer import STRAY
from railwright.engine.expression import gradient
from railwright.engine.system import slope_matrices, trace

SMALL = "mains transformer 230 V, 2 x 15 V, 30 VA"
MAINS, HERTZ = 230.0, 50.0
PERFECT = {
    "primary_resistance": 1e-6,
    "secondary_resistance": 1e-6,
    "leakage_inductance": 1e-9,
    "magnetising_inductance": 1e6,
    "saturation_flux": 1e9,
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
    known = {**typical_values("transformer", name), "saturation_flux": 1e5}
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
    """17.3 V by the turns; the idle current takes 0.7 % of it in the primary's 100 Ω."""
    found = phasors(on_the_mains())
    assert abs(across(found, "A", "B")) == pytest.approx(MAINS / 13.3 * 0.993, rel=1e-3)


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
    assert abs(across(found, "A", "D")) == pytest.approx(2 * MAINS / 13.3 * 0.993, rel=1e-3)


LABEL = re.compile(r"230 V, (2 x )?(\d+) V, (\d+) VA")
SOLD = [entry.name for entry in load().values() if entry.kind == "transformer"]


def test_usual_sizes_are_sold() -> None:
    labels = {LABEL.search(name).groups() for name in SOLD}  # type: ignore[union-attr]
    for volts in ("9", "12", "15", "18"):
        assert {va for two, v, va in labels if two and v == volts} >= {"10", "30", "50"}
    assert {va for two, v, va in labels if not two and v == "24"} >= {"10", "50", "160"}


@pytest.mark.parametrize("name", SOLD)
def test_every_one_gives_at_full_load_what_its_label_says(name: str) -> None:
    """At the rated current of all its secondaries, and unloaded as much above as it regulates."""
    two, volts, va = LABEL.search(name).groups()  # type: ignore[union-attr]
    ohms = float(volts) ** 2 * (2 if two else 1) / float(va)
    board = on_the_mains(name, second=bool(two)).resistor("R", "A", "B", ohms)
    found = phasors(board.resistor("S", "C", "D", ohms) if two else board)
    loaded = abs(across(found, "A", "B"))
    assert loaded == pytest.approx(float(volts), rel=0.025)
    entry = load()[name].values
    stated = float(entry["turns_ratio"].source.partition(": ")[2].partition(" %")[0])
    unloaded = abs(across(phasors(on_the_mains(name, second=bool(two))), "A", "B"))
    assert 100.0 * (unloaded / loaded - 1.0) == pytest.approx(stated, rel=0.15)


@pytest.mark.parametrize("name", SOLD)
def test_its_core_bends_above_the_peak_of_its_flux(name: str) -> None:
    """At the greatest mains, a tenth more, it is not yet far into saturation."""
    peak = np.sqrt(2) * MAINS / (2 * np.pi * HERTZ)
    stated = load()[name].values["saturation_flux"].spread
    assert 0.9 < stated.low / peak < stated.high / peak < 1.5


def test_a_switched_tap_takes_one_secondary_or_both() -> None:
    """Joined end to start they have a tap between; a switch chooses what the load is given."""
    board = on_the_mains("mains transformer 230 V, 2 x 12 V, 50 VA, toroid", second=True)
    board.resistor("J", "B", "C", 1e-6).resistor("G", "A", GROUND, 1e-6)
    board.part("S1", "switch", {"one": "C", "two": "OUT"}, {"rest": "closed"}, operated=0.0)
    board.part("S2", "switch", {"one": "D", "two": "OUT"}, {"rest": "open"}, operated=0.0)
    for ref in ("S1", "S2"):
        board.nominal |= {(ref, n): v for n, v in typical_values("switch").items()}
    low = abs(phasors(board.resistor("R", "OUT", GROUND, 1e4))["OUT"])
    board.nominal |= {("S1", "operated"): 1.0, ("S2", "operated"): 1.0}
    assert abs(phasors(board)["OUT"]) == pytest.approx(2.0 * low, rel=1e-3)


def idle_impedance() -> complex:
    """Magnetising inductance beside the core loss, seen from the primary [Ω]."""
    reactance = 2j * np.pi * HERTZ * 30.0
    return reactance * 18e3 / (reactance + 18e3)


def test_short_circuit_impedance_is_both_resistances_and_the_leakage() -> None:
    shorted = on_the_mains().resistor("R", "A", "B", 1e-4).resistor("G", "B", GROUND, 1e-3)
    found = phasors(shorted)
    omega = 2 * np.pi * HERTZ
    secondary, core = 13.3**2 * 1.13 + 0.05j * omega, idle_impedance()
    wanted = 100.0 + 0.05j * omega + secondary * core / (secondary + core)
    assert MAINS / found["T.primary"] == pytest.approx(wanted, rel=1e-3)


def test_idle_current_magnetises_and_heats_the_core() -> None:
    idle = phasors(on_the_mains())["V.current"]
    series = 100.0 + 0.05j * 2 * np.pi * HERTZ
    assert idle == pytest.approx(MAINS / (series + idle_impedance()), rel=1e-4)


def test_what_goes_in_is_what_comes_out_and_what_is_lost() -> None:
    board = on_the_mains(second=True).resistor("R", "A", "B", 15.0).resistor("S", "C", "D", 40.0)
    found, known = phasors(board), typical_values("transformer", SMALL)
    given = abs(across(found, "A", "B")) ** 2 / 15.0 + abs(across(found, "C", "D")) ** 2 / 40.0
    lost = abs(found["T.primary"]) ** 2 * known["primary_resistance"]
    for winding in ("T.secondary", "T.second"):
        lost += abs(found[winding]) ** 2 * known["secondary_resistance"]
    lost += (1.0 - 2 * STRAY) * abs(found["T.core"]) ** 2 / known["core_resistance"]
    for pair in ("AB", "CD"):
        referred = abs(across(found, *pair)) * known["turns_ratio"]
        lost += STRAY * referred**2 / known["core_resistance"]
    taken = (found["P"] * found["V.current"].conjugate()).real
    assert taken == pytest.approx(given + lost, rel=1e-6)


def test_a_core_loses_its_stated_share_at_the_saturation_flux() -> None:
    known = typical_values("transformer", SMALL)
    device = kinds()["transformer"]
    at = dict.fromkeys((*device.pins, *device.unknowns), 0.0)
    h = 1e-6

    def flux(current: float) -> float:
        part = LonePart(device, known, {**at, "magnetising": current}).run()
        return float(part.fluxes["magnetising"])

    limit = brentq(lambda current: flux(current) - known["saturation_flux"], 0.0, 1.0)
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
