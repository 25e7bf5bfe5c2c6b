"""What the equations of every kind must hold to, in any state."""

from typing import Any

import numpy as np
import pytest
from devices.samples import lone_parts, typical_values
from devices.terms import LonePart

from railwright.devices import kinds

every_kind = pytest.mark.parametrize("kind", sorted(kinds()))
NODES_INSIDE = {"plate", "middle"}
MAGNETIC = {"core"}
"""Internal nodes that balance amperes times turns: no charge, but power."""
WOUND = {
    "inductor",
    "transformer",
    "ferrite-bead",
    "common-mode-choke",
    "cable",
    "wirewound-resistor",
}
HOT = {"junction", "winding", "case", "face", "air", "inside"}


def beside(part: LonePart) -> list[tuple[Any, Any]]:
    """Flow and potential at each electrical pin of a linked part that this part feeds."""
    return [
        (link.flows[pin], link.at[pin])
        for link in part.links.values()
        for pin in link.flows
        if pin not in HOT
    ]


def electrical(part: LonePart) -> list[str]:
    """Pins and internal nodes that carry amperes."""
    pins = [name for name, pin in part.device.pins.items() if pin.role != "thermal"]
    return pins + [name for name in part.flows if name in NODES_INSIDE]


@every_kind
def test_reports_what_it_declares(kind: str) -> None:
    for part in lone_parts(kind, 10.0):
        part.run()
        equations = {n for n, u in part.device.unknowns.items() if not u.node}
        assert part.observed.keys() == part.device.observes.keys()
        assert part.zeros.keys() == equations
        assert part.fluxes.keys() <= equations


@every_kind
@pytest.mark.parametrize("scale", [0.0, 1.0, 30.0, 1e4])
def test_finite_in_any_state(kind: str, scale: float) -> None:
    for moving in (False, True):
        for part in lone_parts(kind, scale, moving=moving):
            with np.errstate(divide="raise", invalid="raise", over="raise"):
                part.run()
            for found in (part.flows, part.zeros, part.observed, part.fluxes, part.heats):
                for name, number in found.items():
                    assert np.isfinite(number).all(), name
            for place in (*part.charges, *part.noises):
                assert np.isfinite(place[-1]).all(), place[0]


@every_kind
def test_noise_has_a_density_that_is_not_negative(kind: str) -> None:
    for part in lone_parts(kind, 30.0, moving=True):
        part.at = {n: x + 300.0 * (n in HOT) for n, x in part.at.items()}
        part.run()
        for place, density, corner in part.noises:
            assert np.all(density >= 0.0), place
            assert np.all(corner >= 0.0), place


@every_kind
def test_charges_grow_with_their_voltage(kind: str) -> None:
    """No storage gives back more energy than it took: none of its capacitances is negative."""
    for part in lone_parts(kind, 2.0, moving=True):
        part.run()
        way = 1e-6
        for number, (start, end, amount) in enumerate(part.charges):
            at = {**part.at, start: part.at[start] + way}
            values = typical_values(kind)
            there = LonePart(part.device, values, at, part.options, part.without, moving=True)
            gain = there.run().charges[number][2] - amount
            assert np.all(gain >= -1e-9 * np.abs(amount)), (start, end)


@every_kind
@pytest.mark.parametrize("scale", [1.0, 30.0, 1e4])
def test_no_charge_is_made_or_lost(kind: str, scale: float) -> None:
    for part in lone_parts(kind, scale):
        part.run()
        flows = [np.asarray(part.flows.get(pin, 0.0)) for pin in electrical(part)]
        flows += [np.asarray(flow) for flow, _ in beside(part)]
        total, size = sum(flows), sum(map(np.abs, flows))
        assert np.all(np.abs(total) <= 1e-9 * size + 1e-15)


@every_kind
def test_heat_is_the_power_taken(kind: str) -> None:
    """Watts from the junction (or reported) are the sum of volts times amperes at the pins."""
    if "power" not in kinds()[kind].observes:
        return
    for part in lone_parts(kind, 20.0):
        part.run()
        powered = [*electrical(part), *(MAGNETIC & part.flows.keys())]
        taken = sum(part.flows.get(pin, 0.0) * part.at[pin] for pin in powered)
        taken = taken + sum(flow * volts for flow, volts in beside(part))
        for name in part.fluxes if kind in WOUND else ():
            # What a winding's own equation leaves over charges the core.
            taken = taken - part.zeros[name] * part.at[name]
        given_away = sum(-link.flows.get("junction", 0.0) for link in part.links.values())
        scale = sum(np.abs(part.flows.get(pin, 0.0)) for pin in electrical(part)) * 20.0
        gap = np.abs(part.observed["power"] - (taken - given_away))
        assert np.all(gap <= 1e-9 * scale + 1e-12)


@every_kind
def test_heat_leaves_by_the_case_or_to_the_air(kind: str) -> None:
    for part in lone_parts(kind, 400.0):
        if "junction" not in part.device.unknowns:
            return
        part.run()
        to_case = part.flows.get("case", 0.0)
        to_air = part.flows["junction"] + part.observed["power"] + to_case
        if part.connected("case"):
            kelvins = part.at["case"] - part.at["junction"]
            assert to_case == pytest.approx(kelvins / part.p.junction_to_case)
            assert np.all(np.abs(to_air) <= 1e-9 * np.abs(part.observed["power"]) + 1e-9)
        else:
            kelvins = part.at["junction"] - part.ambient
            size = np.abs(part.observed["power"]) * 1e-9 + 1e-9
            assert np.all(np.abs(to_air - kelvins / part.p.junction_to_ambient) <= size)
