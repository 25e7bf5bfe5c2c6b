"""A capture of an oscilloscope: voltages of channels at even steps of time."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


class CaptureError(ValueError):
    """A capture that cannot be used: what was found, what is wanted, what to do."""


@dataclass(frozen=True)
class Capture:
    """Channels over time, in SI."""

    start: float
    """Of the first sample, from the trigger [s]."""
    step: float
    """Between samples [s]."""
    channels: Mapping[str, Array]
    """Name -> volts (or amperes, of a probe that says so), one for each sample."""

    @property
    def count(self) -> int:
        """Samples of a channel."""
        return next(iter(self.channels.values())).size

    @property
    def time(self) -> Array:
        """Of every sample [s]."""
        return self.start + self.step * np.arange(self.count, dtype=np.float64)

    @property
    def rate(self) -> float:
        """Samples a second."""
        return 1.0 / self.step

    def only(self, name: str) -> Capture:
        """The same with one channel alone. CaptureError where it has none of that name."""
        return Capture(self.start, self.step, {name: self.channel(name)})

    def channel(self, name: str = "") -> Array:
        """A channel by its name; the only one where none is named.

        CaptureError where there is none of that name, or where several need a name.
        """
        if name in self.channels:
            return self.channels[name]
        known = ", ".join(self.channels)
        if name:
            raise CaptureError(f"the capture has no channel {name}. It has {known}.")
        if len(self.channels) > 1:
            raise CaptureError(f"the capture has several channels: {known}. Name one of them.")
        return next(iter(self.channels.values()))
