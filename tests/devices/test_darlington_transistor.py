"""Darlington transistors against their stated points and against two single transistors."""

from __future__ import annotations

import itertools
from dataclasses import replace

import numpy as np
import pytest
from devices.samples import typical_values
from devices.solving import Part, Solution, resistor, solved, source

from railwright.catalogue.loader import load

COOL = {"junction_to_ambient": 1e-3}
PINS = {"collector": "C", "base": "B", "emitter": "GND"}
NAMES = ["122 type", "142 type", "BD679"]


def fed(ref: str, net: str, sign: int) -> Part:
    """A stiff source that lifts a net above ground, or holds it below."""
    plus, minus = (net, "GND") if sign > 0 else ("GND", net)
    own = {"resistance": 1e-3, "current_limit": 100.0}
    return Part(ref, "source", {"plus": plus, "minus": minus}, own)


def pair(name: str = "122 type", polarity: str = "npn", **values: float) -> Part:
    own = {**COOL, **values}
    return Part("Q", "darlington-transistor", PINS, own, {"polarity": polarity}, name)


def driven(part: Part, **lanes: object) -> Solution:
    """The base from a source behind 1 kΩ, the collector from one that hardly gives way."""
    sources = [source("VB", "BB", limit=100.0), source("VC", "C", limit=100.0)]
    return solved([*sources, resistor("RB", "BB", "B"), part], **lanes)


@pytest.mark.parametrize("name", NAMES)
def test_stated_base_emitter_voltage(name: str) -> None:
    known = typical_values("darlington-transistor", name)
    volts = np.linspace(2.0, 40.0, 400)
    found = driven(pair(name, early_voltage=1e6), VB_voltage=volts, VC_voltage=4.0)
    at = np.interp(known["test_current"], found["Q.current"], found["Q.base_emitter_voltage"])
    assert at == pytest.approx(known["base_emitter_voltage"], abs=2e-3)


@pytest.mark.parametrize("name", NAMES)
def test_stated_saturation(name: str) -> None:
    """The base takes a 250th of the collector current, both as stated."""
    known = typical_values("darlington-transistor", name)
    amperes = known["saturation_test_current"]
    parts = [
        source("VB", "BB"),
        resistor("RB", "BB", "B", 1e4),
        source("VC", "CC", limit=100.0),
        resistor("RC", "CC", "C", 10.0),
        pair(name, early_voltage=1e6),
    ]
    base = 1e4 * amperes / 250.0 + known["base_emitter_voltage"]
    found = solved(parts, VB_voltage=base, VC_voltage=10.0 * amperes + known["saturation_voltage"])
    assert found["Q.base_current"] == pytest.approx(amperes / 250.0, rel=2e-3)
    assert found["Q.voltage"] == pytest.approx(known["saturation_voltage"], rel=0.01)
    # By its very construction more than one junction is left, whatever the drive.
    assert found["Q.voltage"] > 0.6


def gains(amperes: list[float], **values: float) -> np.ndarray:
    """Collector over base current of the 122 type at some collector currents, 3 V."""
    volts = np.geomspace(1.0, 20.0, 600)
    found = driven(pair(**values), VB_voltage=volts, VC_voltage=3.0)
    return np.interp(amperes, found["Q.current"], found["Q.current"] / found["Q.base_current"])


def test_published_gain_of_the_122_type() -> None:
    """At least 1000 at 0.5 A and at 3 A, 2500 at 4 A as a rule (datasheets of the 120 type)."""
    spread = load()["122 type"].values["current_gain"].spread
    assert gains([4.0])[0] == pytest.approx(2500.0, rel=0.1)
    least = gains([0.5, 3.0], current_gain=spread.low)
    assert np.all(least >= 990.0)
    assert least.min() == pytest.approx(1000.0, rel=0.05)


def test_published_limits_of_the_122_type_at_high_current() -> None:
    """At most 4 V saturated at 5 A, base 20 mA; at most 2.5 V base to emitter at 3 A, 3 V."""
    parts = [source("VB", "BB"), resistor("RB", "BB", "B"), source("VC", "CC", limit=50.0)]
    parts += [resistor("RC", "CC", "C", 4.0), pair()]
    found = solved(parts, VB_voltage=20.0 + 1.7, VC_voltage=20.0 + 1.7)
    assert found["Q.current"] == pytest.approx(5.0, rel=0.02)
    assert 1.3 < found["Q.voltage"] < 4.0


def test_it_is_two_transistors_with_their_resistors_and_a_diode() -> None:
    """The second form: four parts and a collector resistance, in all quarters of the plane."""
    known = typical_values("darlington-transistor", "122 type")
    whole = pair()
    constants = whole.device.constants(_Values(whole.known))
    gain = known["current_gain"] ** 0.5
    single = {n: known[n] for n in ("reverse_gain", "early_voltage", "gain_half_current")}
    single |= {"current_gain": gain, "saturation_voltage": 0.01, "saturation_test_current": 10.0}

    def transistor(ref: str, pins: tuple[str, str, str], at_room: float) -> Part:
        own = {**single, "test_current": 1.0, **COOL}
        own["base_emitter_voltage"] = 25.6926e-3 * np.log(1.0 + 1.0 / at_room)
        names = dict(zip(("collector", "base", "emitter"), pins, strict=True))
        return Part(ref, "bipolar-transistor", names, own, {"polarity": "npn"}, "2N3904")

    body = {"forward_voltage": known["diode_voltage"], "test_current": known["diode_current"]}
    body |= {"series_resistance": known["diode_resistance"], "ideality": 1.2, "gap": 1.12}
    apart = [
        transistor("Q1", ("INNER", "B", "M"), constants["driver_at_room"]),
        transistor("Q2", ("INNER", "M", "GND"), constants["output_at_room"]),
        resistor("R1", "B", "M", known["driver_resistor"]),
        resistor("R2", "M", "GND", known["output_resistor"]),
        resistor("RX", "C", "INNER", constants["collector_resistance"]),
        Part("D", "diode", {"anode": "GND", "cathode": "C"}, {**body, **COOL}, name="1N4007"),
    ]
    for base, collector in itertools.product((1, -1), (1, -1)):
        around = [
            fed("VB", "BB", base),
            resistor("RB", "BB", "B", 300.0),
            fed("VC", "CC", collector),
            resistor("RC", "CC", "C", 5.0),
        ]
        at = np.meshgrid([0.0, 0.8, 1.6, 6.0], [0.3, 0.9, 3.0, 20.0])
        lanes = {"VB_voltage": at[0].ravel(), "VC_voltage": at[1].ravel()}
        one, other = solved([*around, whole], **lanes), solved([*around, *apart], **lanes)
        for net in ("B", "C"):
            assert one[net] == pytest.approx(other[net], abs=2e-3)


class _Values:
    """Values by attribute, as `constants` asks for them."""

    def __init__(self, known: object) -> None:
        self.__dict__.update(known)  # type: ignore[call-overload]


def test_pnp_mirrors_npn() -> None:
    way = {"VB_voltage": [2.0, 5.0], "VC_voltage": [3.0, 20.0]}
    npn = driven(pair(), **way)
    lower = [fed("VB", "BB", -1), fed("VC", "C", -1)]
    parts = [*lower, resistor("RB", "BB", "B"), pair(polarity="pnp")]
    pnp = solved(parts, **way)
    assert pnp["B"] == pytest.approx(-npn["B"], rel=1e-6)
    assert pnp["Q.current"] == pytest.approx(npn["Q.current"], rel=1e-6)


def test_both_junctions_fall_with_temperature() -> None:
    """About -2 mV/K for each at a constant current (Sze)."""
    ends = {"plus": "E", "minus": "GND"}
    load = Part("I", "load", ends, {"current": 1.0}, {"style": "constant-current"})
    parts = [fed("VB", "B", 1), fed("VC", "C", 1), load]
    follower = replace(pair(), pins={**PINS, "emitter": "E"})
    lanes = {"VB_voltage": 5.0, "VC_voltage": 13.5, "Q_junction_to_ambient": [1e-3, 5.0]}
    found = solved([*parts, follower], **lanes)
    kelvins, fall = np.diff(found["Q.junction"]), np.diff(found["Q.base_emitter_voltage"])
    assert kelvins == pytest.approx(50.0, abs=1.0)
    assert -4.5e-3 < fall[0] / kelvins[0] < -3e-3


def test_an_open_base_leaks_next_to_nothing_and_the_diode_conducts_backwards() -> None:
    open_base = [resistor("RC", "CC", "C", 10.0), pair(), resistor("RF", "B", "GND", 1e9)]
    ahead = solved([fed("VC", "CC", 1), *open_base], VC_voltage=50.0)
    assert abs(ahead["Q.current"][0]) < 1e-6
    back = solved([fed("VC", "CC", -1), *open_base], VC_voltage=30.0 + 1.3)
    assert back["C"] == pytest.approx(-1.3, abs=0.02)  # stated at 3 A


def test_no_spread_of_the_diode_makes_it_leak() -> None:
    """A low stated voltage and a high resistance leave a junction of silicon all the same."""
    off = [resistor("RC", "CC", "C", 10.0), resistor("RF", "B", "GND", 1e3)]
    for volts, ohms in ((0.9, 0.24), (1.3, 0.4)):
        part = pair(diode_voltage=volts, diode_resistance=ohms)
        ahead = solved([fed("VC", "CC", 1), *off, part], VC_voltage=50.0)
        assert abs(ahead["Q.current"][0]) < 1e-5
        back = solved([fed("VC", "CC", -1), *off, part], VC_voltage=30.0 + volts)
        assert back["C"] == pytest.approx(-volts, abs=0.02)  # stated at 3 A
