"""A part by itself: its equations on given numbers, with everything that it states kept."""

from __future__ import annotations

from collections.abc import Mapping
from types import SimpleNamespace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from railwright.devices.device import Device

Array = NDArray[np.float64]


class LonePart:
    """`Terms` for one part whose pins and unknowns are held at given numbers."""

    def __init__(
        self,
        device: Device,
        values: Mapping[str, Any],
        at: Mapping[str, Any],
        options: Mapping[str, str] | None = None,
        without: tuple[str, ...] = (),
        links: Mapping[str, LonePart] | None = None,
        gain: float = 1.0,
        moving: bool = False,
    ) -> None:
        known = {n: v.default for n, v in device.values.items() if v.default is not None}
        known |= {**device.inputs, **device.holds, **values}
        self.device = device
        self.p = SimpleNamespace(**known, **device.constants(SimpleNamespace(**known)))
        self.ambient: Any = 298.15
        self.gain: Any = gain
        self.time: Any = 0.0
        self.moving = moving
        self.at = at
        self.options = {name: choices[0] for name, choices in device.options.items()}
        self.options |= dict(options or {})
        self.without = without
        self.links = dict(links or {})
        self.flows: dict[str, Any] = {}
        self.zeros: dict[str, Any] = {}
        self.charges: list[tuple[str, str, Any]] = []
        self.fluxes: dict[str, Any] = {}
        self.heats: dict[str, Any] = {}
        self.observed: dict[str, Any] = {}
        self.events: list[tuple[Any, dict[str, Any]]] = []
        self.signals: dict[str, Any] = {}
        self.paces: list[Any] = []
        self.noises: list[tuple[tuple[str, ...], Any, Any]] = []

    def run(self) -> LonePart:
        """Let the part state its equations."""
        self.device.equations(self)
        return self

    def run_switched(self) -> LonePart:
        """Let the part state its equations cycle by cycle."""
        self.device.switched_equations(self)
        return self

    def v(self, pin: str) -> Any:
        return self.at[pin]

    def x(self, unknown: str) -> Any:
        return self.at[unknown]

    def flow(self, pin: str, amount: Any) -> None:
        self.flows[pin] = self.flows.get(pin, 0.0) + amount

    def through(self, start: str, end: str, amount: Any) -> None:
        self.flow(start, amount)
        self.flow(end, -amount)

    def zero(self, unknown: str, residual: Any) -> None:
        self.zeros[unknown] = self.zeros.get(unknown, 0.0) + residual

    def charge(self, start: str, end: str, amount: Any, parasitic: bool = False) -> None:
        self.charges.append((start, end, amount))

    def flux(self, unknown: str, amount: Any) -> None:
        self.fluxes[unknown] = amount

    def heat(self, node: str, amount: Any) -> None:
        self.heats[node] = amount

    def event(self, guard: Any, **changes: Any) -> None:
        self.events.append((guard, changes))

    def pace(self, longest: Any) -> None:
        self.paces.append(longest)

    def signal(self, name: str, amount: Any) -> Any:
        self.signals[name] = amount
        return amount

    def noise(self, start: str, end: str, density: Any, corner: Any = 0.0) -> None:
        self.noises.append(((start, end), density, corner))

    def noise_in(self, unknown: str, density: Any, corner: Any = 0.0) -> None:
        self.noises.append(((unknown,), density, corner))

    def observe(self, name: str, amount: Any) -> None:
        self.observed[name] = amount

    def connected(self, pin: str) -> bool:
        return pin in self.device.pins and pin not in self.without

    def option(self, name: str) -> str:
        return self.options[name]

    def linked(self, name: str) -> LonePart | None:
        return self.links.get(name)
