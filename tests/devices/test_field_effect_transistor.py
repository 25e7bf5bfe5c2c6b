"""Field-effect transistors: the published points, the square law, temperature, charges, noise."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from circuits import GROUND, Board
from devices.samples import typical_values
from devices.solving import Part, resistor, solved, source
from devices.terms import LonePart

from railwright.catalogue.loader import load
from railwright.devices import kinds
from railwright.devices.arithmetic import BOLTZMANN, ROOM, thermal_voltage
from railwright.devices.field_effect_transistor import BUILT_IN, SLOPE_FACTOR

KIND = "field-effect-transistor"
TYPES = [e.name for e in load().values() if e.kind == KIND]
COOL = {"junction_to_ambient": 0.1}
every_type = pytest.mark.parametrize("name", TYPES)


def transistor(name: str, drain: str = "D", gate: str = "G", **values: float) -> Part:
    pins = {"drain": drain, "gate": gate, "source": "GND"}
    return Part("Q", KIND, pins, {**COOL, **values}, {"channel": "n"}, name)


def driven(name: str, **values: float) -> list[Part]:
    """Gate and drain on sources of their own; a p-channel type is looked at as its mirror."""
    supplies = [source("VG", "G"), source("VD", "D", limit=100.0, resistance=1e-6)]
    return [*supplies, transistor(name, **values)]


@every_type
def test_meets_its_stated_threshold(name: str) -> None:
    known = typical_values(KIND, name)
    parts = [source("V", "IN"), resistor("R", "IN", "G", 1e3), transistor(name, drain="G")]
    found = solved(parts, V_voltage=known["threshold_voltage"] + 1e3 * known["threshold_current"])
    assert found["Q.current"] == pytest.approx(known["threshold_current"], rel=1e-3)


@every_type
def test_meets_its_stated_on_resistance(name: str) -> None:
    known = typical_values(KIND, name)
    small = 1e-3
    found = solved(driven(name), VG_voltage=known["on_gate_voltage"], VD_voltage=small)
    resistance = found["Q.voltage"] / found["Q.current"]
    assert resistance == pytest.approx(known["on_resistance"], rel=2e-3)


@every_type
def test_transconductance_is_the_stated_one_unless_the_on_resistance_wants_more(name: str) -> None:
    known = typical_values(KIND, name)
    gates = known["threshold_voltage"] + np.linspace(0.0, 12.0, 4001)
    found = solved(driven(name, junction_to_ambient=1e-9), VG_voltage=gates, VD_voltage=60.0)
    slopes = np.gradient(found["Q.current"], gates)
    slope = np.interp(known["transconductance_current"], found["Q.current"], slopes)
    assert slope >= 0.99 * known["transconductance"]
    if name != "p-channel 100 V 19 A":  # 0.15 Ω at 10 V need more than the 8 A/V at 11 A
        assert slope == pytest.approx(known["transconductance"], rel=0.01)


def held(values: dict[str, float] | None = None, options: Any = None, **at: Any) -> LonePart:
    """A 2N7000 at given potentials (source at nil) and inner voltages, at room temperature."""
    rest = {"drain": 0.0, "gate": 0.0, "source": 0.0, "case": ROOM}
    state = {**rest, "channel": 0.0, "body": 0.0, "junction": ROOM, **at}
    known = {**typical_values(KIND, "2N7000"), "leakage": 0.0, **(values or {})}
    return LonePart(kinds()[KIND], known, state, options).run()


@pytest.mark.parametrize("gate", [4.0, 6.0, 10.0])
def test_square_law(gate: float) -> None:
    """b ((Vgs - Vt) Vds - Vds^2/2), then b/2 (Vgs - Vt)^2 (textbook: Gray and Meyer, chapter 1)."""
    inner = np.linspace(0.0, 12.0, 49)
    part = held(gate=gate, drain=inner, channel=inner, body=-1.0)
    drive = gate - part.p.threshold_at_room
    reached = np.minimum(inner, drive)
    wanted = part.p.factor_at_room * (drive * reached - 0.5 * reached**2)
    assert part.observed["current"] == pytest.approx(wanted, rel=2e-3, abs=2e-4)


def test_source_and_drain_are_exchangeable() -> None:
    forward = held(gate=5.0, drain=2.0, channel=2.0, body=-1.0)
    backward = held(gate=3.0, drain=-2.0, channel=-2.0, body=0.0)
    assert backward.observed["current"] == pytest.approx(-forward.observed["current"], rel=1e-9)


def test_current_below_the_threshold_falls_tenfold_in_ninety_millivolts() -> None:
    """n VT ln 10 = 1.5 x 59.2 mV (Enz, Krummenacher and Vittoz)."""
    low, high = (held(gate=g, drain=5.0, channel=5.0).observed["current"] for g in (1.0, 1.1))
    per_decade = 0.1 / np.log10(high / low)
    assert per_decade == pytest.approx(SLOPE_FACTOR * thermal_voltage(ROOM) * np.log(10), rel=1e-3)


def test_channel_length_effect_tilts_the_saturated_current() -> None:
    one, other = (
        held({"channel_length_voltage": 50.0}, gate=5.0, drain=v, channel=v, body=-1.0)
        for v in (10.0, 20.0)
    )
    tilt = other.observed["current"] / one.observed["current"]
    assert tilt == pytest.approx((50.0 + 20.0) / (50.0 + 10.0), rel=1e-3)


def test_warm_on_resistance_is_the_stated_one() -> None:
    known = typical_values(KIND, "n-channel 100 V 30 A")
    rise = {"Q_junction_to_ambient": [1e-6, 1e5]}
    small = 6e-3  # V; 0.1 A in 60 mΩ heat it a little at 1e5 K/W
    found = solved(
        driven("n-channel 100 V 30 A"), VG_voltage=10.0, VD_voltage=[small, 1e-2], **rise
    )
    resistance = found["Q.voltage"] / found["Q.current"]
    kelvins = found["Q.junction"][1] - ROOM
    assert kelvins > 50.0
    power = np.log(known["warm_factor"]) / np.log(398.15 / 298.15)
    ratio = (found["Q.junction"][1] / ROOM) ** power
    assert resistance[1] / resistance[0] == pytest.approx(ratio, rel=0.02)


def test_there_is_a_gate_voltage_at_which_warmth_changes_nothing() -> None:
    """Below it the falling threshold wins, above it the falling mobility (textbook)."""

    def change(gate: float) -> float:
        cold, hot = (
            held(gate=gate, drain=10.0, channel=10.0, body=-1.0, junction=kelvins)
            for kelvins in (ROOM, ROOM + 50.0)
        )
        return float(hot.observed["current"] - cold.observed["current"])

    assert change(2.5) > 0.0 > change(6.0)


def test_body_diode_meets_its_stated_point_and_blocks() -> None:
    known = typical_values(KIND, "n-channel 100 V 30 A")
    below = {"resistance": 1e-6, "current_limit": 100.0}
    pull = Part("V", "source", {"plus": "GND", "minus": "N"}, below)
    parts = [
        source("VG", "G"),
        pull,
        resistor("R", "N", "D", 1.0),
        driven("n-channel 100 V 30 A")[2],
    ]
    found = solved(parts, VG_voltage=0.0, V_voltage=28.0 + known["body_voltage"])
    assert -found["Q.current"] == pytest.approx(known["body_current"], rel=1e-3)
    assert -found["Q.voltage"] == pytest.approx(known["body_voltage"], abs=0.01)
    blocked = solved(driven("n-channel 100 V 30 A"), VG_voltage=0.0, VD_voltage=80.0)
    leak = known["leakage"] * 80.0 / known["drain_source_voltage"]
    assert blocked["Q.current"] == pytest.approx(leak, rel=0.01)


def test_p_channel_mirrors_n_channel() -> None:
    at = {"gate": 5.0, "drain": 3.0, "channel": 2.0, "body": -2.0}
    n = held(**at)
    p = held(None, {"channel": "p"}, **{**at, "gate": -5.0, "drain": -3.0})
    assert {k: -v for k, v in p.flows.items() if k in ("drain", "gate", "source")} == {
        k: v for k, v in n.flows.items() if k in ("drain", "gate", "source")
    }
    assert p.observed == n.observed
    assert p.zeros == n.zeros
    assert [(a, b, -c) for a, b, c in p.charges] == n.charges


@every_type
def test_capacitances_are_the_published_ones(name: str) -> None:
    """Ciss = Cgs + Cgd, Coss = Cds + Cgd, Crss = Cgd, gate at the source's potential."""
    known = typical_values(KIND, name)
    volts, h = known["capacitance_voltage"], 1e-3

    def charges(**at: float) -> dict[str, float]:
        part = held(known, drain=at.get("drain", volts), gate=at.get("gate", 0.0))
        pins = dict.fromkeys(("gate", "drain", "source"), 0.0)
        for start, end, amount in part.charges:
            pins[start] += amount
            pins[end] -= amount
        return pins

    def slope(pin: str, of: str) -> float:
        base = {"gate": 0.0, "drain": volts}[pin]
        high, low = charges(**{pin: base + h}), charges(**{pin: base - h})
        return (high[of] - low[of]) / (2 * h)

    assert slope("gate", "gate") == pytest.approx(known["input_capacitance"], rel=1e-6)
    assert slope("drain", "drain") == pytest.approx(known["output_capacitance"], rel=1e-6)
    assert -slope("drain", "gate") == pytest.approx(known["reverse_capacitance"], rel=1e-6)


def test_depletion_capacitance_falls_with_the_root_of_the_voltage() -> None:
    """C(v) = C(0) / sqrt(1 + v/0.8) (Sze, abrupt junction)."""
    drains, h = np.array([0.0, 5.0, 25.0, 60.0]), 1e-4

    def stored(drain: Any) -> Any:
        return sum(q for start, end, q in held(drain=drain).charges if end == "source")

    found = (stored(drains + h) - stored(drains - h)) / (2 * h)
    nil = (11e-12 - 4e-12) * np.sqrt(1 + 25.0 / BUILT_IN)
    assert found == pytest.approx(nil / np.sqrt(1 + drains / BUILT_IN), rel=1e-3)


def test_noise_of_the_channel() -> None:
    """(2/3) 4kT gm saturated, 4kT/R as a resistance (Gray and Meyer; Johnson and Nyquist)."""
    saturated = held(gate=5.0, drain=10.0, channel=10.0, body=-1.0)
    drive = 5.0 - saturated.p.threshold_at_room
    gm = saturated.p.factor_at_room * drive
    four_kt = 4 * BOLTZMANN * ROOM
    (_, density, corner), _ = saturated.noises
    assert density == pytest.approx(2 / 3 * four_kt * gm, rel=1e-3)
    assert corner == pytest.approx(1e6)
    closed = held(gate=5.0, drain=0.0, channel=0.0)
    (_, density, _), (where, drift, _) = closed.noises
    assert density == pytest.approx(four_kt * gm, rel=1e-3)
    assert where == ("channel",)
    assert drift == pytest.approx(four_kt * closed.p.drift_at_room)


@every_type
@pytest.mark.parametrize("pull", [10.0, 1e3, 1e5])
def test_plain_newton_solves_switches_and_followers(name: str, pull: float) -> None:
    gates = np.repeat(np.linspace(-15.0, 15.0, 31), 3)
    rails = np.tile([0.0, 5.0, 40.0], 31)
    switch = [
        *(source("VG", "G"), source("VD", "IN", limit=100.0)),
        *(resistor("R", "IN", "D", pull), transistor(name)),
    ]
    assert np.isfinite(solved(switch, VG_voltage=gates, VD_voltage=rails)["D"]).all()
    pins = {"drain": "IN", "gate": "G", "source": "S"}
    follower = [
        *(source("VG", "G"), source("VD", "IN", limit=100.0), resistor("R", "S", "GND", pull)),
        Part("Q", KIND, pins, COOL, {"channel": "n"}, name),
    ]
    found = solved(follower, VG_voltage=gates, VD_voltage=rails)
    follows = (gates > 5.0) & (rails > 30.0)
    assert np.all(found["S"][follows] < gates[follows])
    if pull >= 1e3:
        assert np.all(found["S"][follows] > gates[follows] - 4.0)


@every_type
def test_the_engine_solves_them_with_their_own_heat(name: str) -> None:
    """At 40 V and 5 K/W, where plain Newton runs away with the temperature."""
    gates, rails = (x.ravel() for x in np.meshgrid(np.linspace(-15.0, 15.0, 31), [0.0, 5.0, 40.0]))
    board = Board().source("VG", "G", 0.0).source("VD", "IN", 0.0).resistor("R", "IN", "D", 10.0)
    pins = {"drain": "D", "gate": "G", "source": GROUND}
    values = kinds()[KIND].values
    typical = {n: v for n, v in typical_values(KIND, name).items() if n in values}
    board.part("Q", KIND, pins, {"channel": "n"}, **{**typical, "junction_to_ambient": 5.0})
    found = board.solve({("VG", "voltage"): gates, ("VD", "voltage"): rails}, gates.size)
    heat = found.of("Q", "power") * 5.0
    assert found.of("Q", "junction") == pytest.approx(ROOM + heat, rel=1e-6)
