"""What the equations cycle by cycle of every switching kind must hold to, in any state."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pytest
from devices.samples import lone_parts, typical_values
from devices.terms import LonePart

from railwright.devices import kinds

switching = pytest.mark.parametrize(
    "kind", sorted(n for n, device in kinds().items() if device.switched_unknowns is not None)
)
THERMAL = {"case", "junction"}


def in_all_phases(kind: str, scale: float) -> Iterator[LonePart]:
    """The kind with every option, while its switch is closed, open, and while it rests."""
    for on, works in ((1.0, 1.0), (0.0, 1.0), (0.0, 0.0)):
        for part in lone_parts(kind, scale):
            part.p.on, part.p.works, part.p.tick, part.p.due = on, works, 0.0, 1e-5
            part.time = np.linspace(0.0, 1.5e-5, 300)
            yield part.run_switched()


def test_some_kinds_switch() -> None:
    assert "step-down-regulator" in kinds()
    assert kinds()["step-down-regulator"].switched_unknowns is not None


@switching
def test_states_every_equation_and_only_declared_observables(kind: str) -> None:
    for part in in_all_phases(kind, 10.0):
        own = part.device.switched_unknowns or {}
        assert part.zeros.keys() == {n for n, u in own.items() if not u.node}
        assert part.observed.keys() <= part.device.observes.keys()


@switching
def test_events_change_held_quantities_only(kind: str) -> None:
    for part in in_all_phases(kind, 10.0):
        for _, changes in part.events:
            assert changes.keys() <= part.device.holds.keys()


@switching
@pytest.mark.parametrize("scale", [0.0, 1.0, 30.0, 1e4])
def test_finite_in_any_state(kind: str, scale: float) -> None:
    with np.errstate(divide="raise", invalid="raise", over="raise"):
        for part in in_all_phases(kind, scale):
            for found in (part.flows, part.zeros, part.fluxes, part.observed):
                assert all(np.isfinite(number).all() for number in found.values())
            for guard, changes in part.events:
                assert np.isfinite(guard).all()
                assert all(np.isfinite(to).all() for to in changes.values())


@switching
def test_no_charge_is_made_or_lost_and_heat_is_the_power_taken(kind: str) -> None:
    for part in in_all_phases(kind, 20.0):
        pins = [pin for pin in part.flows if pin not in THERMAL]
        flows = [(part.flows[pin], part.at[pin]) for pin in pins]
        for link in part.links.values():
            flows += [(flow, link.at[pin]) for pin, flow in link.flows.items()]
        total = sum(flow for flow, _ in flows)
        size = sum(np.abs(flow) for flow, _ in flows)
        assert np.all(np.abs(total) <= 1e-9 * size + 1e-15)
        taken = sum(flow * volts for flow, volts in flows)
        gap = np.abs(part.observed["power"] - taken)
        assert np.all(gap <= 1e-9 * size * 20.0 + 1e-12)


@switching
def test_no_event_takes_back_another_ones_change(kind: str) -> None:
    """Fired again and again at one instant, events come to rest: an engine would storm."""
    for part in in_all_phases(kind, 10.0):
        held = {name: np.full(300, getattr(part.p, name)) for name in part.device.holds}
        for _ in range(20):
            known = typical_values(kind)
            again = LonePart(part.device, known, part.at, part.options, part.without, part.links)
            again.p = type(part.p)(**{**vars(part.p), **held})
            again.time = part.time
            moved = np.zeros(300, bool)
            new = dict(held)
            for guard, changes in again.run_switched().events:
                for name, to in changes.items():
                    acts = np.broadcast_to(guard >= 0.0, (300,)) & (to != held[name])
                    new[name] = np.where(acts, to, new[name])
            moved = np.any([new[name] != held[name] for name in held], axis=0)
            held = new
            if not moved.any():
                break
        else:
            pytest.fail(f"{moved.sum()} lanes do not come to rest")
