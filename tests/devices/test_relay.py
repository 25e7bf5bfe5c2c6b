"""Relays: pull-in and drop-out, times, a warm coil, contacts."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from circuits import GROUND, Board
from devices.samples import typical_values
from devices.solving import Part, resistor, solved, source
from devices.terms import LonePart
from numpy.typing import NDArray
from published import Row, published

from railwright.devices import kinds
from railwright.engine.states import steady_states
from railwright.engine.stimulus import PiecewiseLinear
from railwright.engine.transient import transient

KIND, NAME = "relay", "relay 12 V 10 A"
KNOWN = typical_values(KIND, NAME)
PINS = {"coil_start": "A", "coil_end": "GND", "common": "C", "closes": "P", "opens": "Q"}
KELVIN = 293.15  # resistances of coils are stated at 20 °C


def driven(times: list[float], volts: list[float], instants: int = 2001) -> tuple[NDArray, ...]:
    """Times and coil voltage, and the load's voltage at both contacts, of a fed coil at 20 °C."""
    board = Board().source("V", "A", 0.0, resistance=1e-3, current_limit=10.0)
    board.source("W", "C", 10.0, resistance=1e-3, current_limit=10.0)
    pins = {**PINS, "coil_end": GROUND}
    board.use("K", NAME, pins)
    board.resistor("RP", "P", GROUND, 10.0).resistor("RQ", "Q", GROUND, 10.0)
    model = replace(board.model, topology=replace(board.topology, isothermal=True))
    at = np.linspace(0.0, times[-1], instants)
    fed = {("V", "voltage"): PiecewiseLinear(np.array(times), np.array(volts))}
    found = transient(model, {("", "ambient"): KELVIN}, 1, at, stimuli=fed)
    assert found.solved[0]
    return at, *(found.potential(net)[0] for net in ("A", "P", "Q"))


def test_it_operates_and_releases_at_its_stated_voltages() -> None:
    """On a rise and a fall of 12 V in 4 s each, slow beside its times."""
    times, volts, closed, opened = driven([0.0, 4.0, 8.0], [0.0, 12.0, 0.0], 8001)
    up, down = times < 4.0, times > 4.0
    assert volts[up][closed[up] < 5.0].max() == pytest.approx(KNOWN["pull_in_voltage"], rel=0.01)
    assert volts[down][closed[down] > 5.0].min() == pytest.approx(
        KNOWN["drop_out_voltage"], rel=0.02
    )
    assert np.all(np.minimum(closed, opened) < 1.0)  # the one opens before the other closes


def test_times() -> None:
    """Stated from the rated voltage on; fed with nil, its current dies away by L/R at first."""
    # It comes to rest at first.
    times, _, closed, _ = driven([0.0, 0.05, 0.050001, 0.1, 0.100001, 0.15], [0, 0, 12, 12, 0, 0])
    operated = times[np.argmax(closed > 5.0)] - 0.05
    assert operated == pytest.approx(KNOWN["operate_time"], rel=0.03)
    released = times[times > 0.1][np.argmax(closed[times > 0.1] < 5.0)] - 0.1
    dying = KNOWN["coil_inductance"] / KNOWN["coil_resistance"] * np.log(12.0 / 3.0)
    assert released == pytest.approx(dying + KNOWN["release_time"], rel=0.03)


def lone(celsius: float, **at: float) -> LonePart:
    kelvin = 273.15 + celsius
    place = dict.fromkeys((*kinds()[KIND].pins, "coil", "state"), 0.0)
    return LonePart(kinds()[KIND], KNOWN, {**place, "winding": kelvin, **at}).run()


def test_a_warm_coil_needs_more_voltage_for_the_same_pull() -> None:
    """By the rise of annealed copper, 0.393 %/K (ASTM B193): 7.5 V (1 + 80 · 0.00393) at 100 °C."""
    amperes = KNOWN["pull_in_voltage"] / KNOWN["coil_resistance"]
    for celsius, volts in ((20.0, 7.5), (100.0, 9.858)):
        at = lone(celsius, coil=amperes)
        assert -float(at.zeros["coil"]) == pytest.approx(volts, rel=1e-4)
        assert float(at.zeros["state"]) == pytest.approx(0.0, abs=2e-3)


@pytest.mark.parametrize("row", published("temperature rise of a relay coil"), ids=str)
def test_published_temperature_rise(row: Row) -> None:
    """At the rated voltage the warm coil takes less than its rated power."""
    ohms = 12.0**2 / row.inputs["rated_power"]
    own = {"coil_resistance": ohms, "winding_to_ambient": row.inputs["thermal_resistance"]}
    part = Part("K", KIND, PINS, own, name=NAME)
    found = solved([source("V", "A"), part, *contacts()], V_voltage=12.0)
    assert found["K.junction"][0] - 298.15 == row.expected_within_its_tolerance
    assert found["K.state"] == pytest.approx(1.0, abs=1e-3)


def contacts() -> list[Part]:
    return [source("W", "C"), resistor("RP", "P", "GND", 10.0), resistor("RQ", "Q", "GND", 10.0)]


@pytest.mark.parametrize(("volts", "sign"), [(0.0, 1), (12.0, 1), (12.0, -1)])
def test_contacts_of_either_polarity_of_the_coil(volts: float, sign: int) -> None:
    ends = ("A", "GND") if sign > 0 else ("GND", "A")
    pins = {**PINS, "coil_start": ends[0], "coil_end": ends[1]}
    parts = [source("V", "A"), Part("K", KIND, pins, name=NAME), *contacts()]
    found = solved(parts, V_voltage=volts, W_voltage=10.0)
    made, free = ("P", "Q") if volts else ("Q", "P")
    assert found[made] == pytest.approx(10.0 * 10.0 / (10.0 + 0.02), rel=1e-3)
    assert abs(found[free][0]) < 1e-6
    assert found["K.contact_voltage"] == pytest.approx(10.0, rel=1e-3)


def test_stuck_either_way() -> None:
    """What faults hold it at: without a feed operated, with a feed at rest."""
    parts = [source("V", "A"), Part("K", KIND, PINS, name=NAME), *contacts()]
    forced = {"K_free": 0.0, "K_forced": [2.0, -1.0], "V_voltage": [0.0, 12.0]}
    found = solved(parts, W_voltage=10.0, **forced)
    assert found["P"] == pytest.approx([9.98, 0.0], abs=0.01)
    assert found["Q"] == pytest.approx([0.0, 9.98], abs=0.01)


def test_between_its_voltages_it_rests_either_way_and_turns_over_in_between() -> None:
    """The hysteresis: one state below 3 V and above 7.5 V, two that last between them."""
    board = Board().source("V", "A", 0.0, resistance=1e-3, current_limit=10.0)
    board.use("K", NAME, {"coil_start": "A", "coil_end": GROUND, "common": "A", "closes": "P"})
    board.resistor("RP", "P", GROUND, 1e3)
    volts = np.array([2.0, 5.0, 12.0])
    states = steady_states(board.model, {("V", "voltage"): volts}, 3, directions=0)
    operated = states.points.of("K", "state")
    for lane, wanted in enumerate(([0.0], [0.0, 1.0], [1.0])):
        here = states.of(lane)
        lasting = here[states.stable[here]]
        assert np.sort(operated[lasting]) == pytest.approx(wanted, abs=2e-3)
        assert all(states.verdict[n] == "unstable" for n in set(here) - set(lasting))


def test_it_holds_itself_through_its_own_contact() -> None:
    """Fed by what it closes: released or operated, and nothing else lasts."""
    board = Board().source("V", "A", 12.0, resistance=1e-3, current_limit=10.0)
    board.use("K", NAME, {"coil_start": "P", "coil_end": GROUND, "common": "A", "closes": "P"})
    states = steady_states(board.model, {}, 1, directions=0)
    operated = states.points.of("K", "state")
    lasting = np.sort(operated[states.stable])
    assert lasting == pytest.approx([0.0, 1.0], abs=2e-3)
