"""Switching stages without losses, for which textbooks have closed forms."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from circuits import GROUND, Board
from engine.clocked_switch import Placed

from railwright.devices.device import Device, Pin, Terms, Unknown, Value
from railwright.engine.model import Model
from railwright.engine.topology import Topology

ON_AT_TICK = {"tick": 0.0, "on": 1.0}


class HalfBridge(Device):
    """Holds its node at the feeding voltage for a share of each period, else at nil."""

    kind = ""
    pins = {"node": Pin("passive"), "ground": Pin("ground")}
    values = {
        "period": Value("s", "clock period"),
        "duty": Value("1", "share of the period"),
        "feeding": Value("V", "voltage while on"),
    }
    holds = ON_AT_TICK
    unknowns = {"current": Unknown("A")}

    def equations(self, t: Terms) -> None:
        t.through("ground", "node", t.x("current"))
        t.zero("current", t.v("node") - t.v("ground") - t.p.on * t.p.feeding)
        t.event(t.time - t.p.tick - t.p.period, tick=t.p.tick + t.p.period, on=1.0)
        self.turn_off(t)

    def turn_off(self, t: Terms) -> None:
        """The event that ends a pulse."""
        t.event(t.time - t.p.tick - t.p.duty * t.p.period, on=0.0)


class PeakCurrentBridge(HalfBridge):
    """Ends its pulse where the current and a ramp together reach a limit."""

    kind = ""
    values = {
        **HalfBridge.values,
        "limit": Value("A", "current at which a pulse ends, without a ramp"),
        "ramp": Value("A/s", "slope compensation"),
    }

    def turn_off(self, t: Terms) -> None:
        reached = t.x("current") + t.p.ramp * (t.time - t.p.tick)
        t.event(reached - t.p.limit, on=0.0)


def coil(board: Board, one: str, two: str, inductance: float) -> Board:
    """A coil that neither saturates nor (nearly) resists."""
    ends = {"one": one, "two": two}
    return board.part(
        "L",
        "inductor",
        ends,
        inductance=inductance,
        winding_resistance=1e-6,
        saturation_current=1e9,
    )


def stage(board: Board, device: Device, values: Mapping[str, float], *others: Any) -> Model:
    """A board with a half bridge U at node SW, isothermal."""
    bridge = Placed("U", device, {"node": "SW", "ground": GROUND})
    topology = Topology.of([*board.parts, bridge, *others], GROUND)
    nominal = {**board.nominal, **{("U", name): value for name, value in values.items()}}
    return Model(replace(topology, isothermal=True, switched=True), nominal)
