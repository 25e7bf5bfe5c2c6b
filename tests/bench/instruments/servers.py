"""Instruments on loopback: they answer as real ones do, and misbehave on demand."""

from __future__ import annotations

import re
import time
from dataclasses import dataclass, field

from railwright.bench.simulated.serving import serving

__all__ = ["Fake", "serving"]


@dataclass
class Fake:
    """An instrument: what it is set to, what it measures, and how it misbehaves."""

    measured: dict[str, float] = field(default_factory=dict)
    """Quantity (VOLT, CURR, RES) -> what it reads."""
    volts: float = 0.0
    amperes: float = 0.0
    on: bool = False
    stuck: bool = False
    """Whether it stays on, whatever it is told."""
    errors: list[str] = field(default_factory=list)
    said: list[str] = field(default_factory=list)
    slow: dict[str, float] = field(default_factory=dict)
    """Message -> seconds before its answer, once."""
    wrong: dict[str, str] = field(default_factory=dict)
    """Message -> another answer, once."""
    hangs_up: set[str] = field(default_factory=set)
    """Messages at which it closes the line."""

    def answer(self, message: str) -> str | None:
        """What it says to a message; None where nothing is due."""
        self.said.append(message)
        if message in self.hangs_up:
            raise ConnectionAbortedError(message)
        if message in self.slow:
            time.sleep(self.slow.pop(message))
        if message in self.wrong:
            return self.wrong.pop(message)
        head, _, value = message.partition(" ")
        upper = head.upper()
        if upper == "*IDN?":
            return "NOBODY,FAKE,0,1.0"
        if upper.startswith("SYST"):
            return self.errors.pop(0) if self.errors else '0,"No error"'
        if upper.startswith(("SOUR", "CURR")) and value:
            setattr(self, "volts" if "VOLT" in upper else "amperes", float(value))
        elif upper.startswith(("SOUR", "CURR")):
            return f"{self.volts if 'VOLT' in upper else self.amperes:.6E}"
        elif upper in ("OUTPUT?", "INPUT?"):
            return "1" if self.on or self.stuck else "0"
        elif upper in ("OUTPUT", "INPUT"):
            self.on = value.upper() in ("ON", "1")
        elif found := re.match(r"MEAS\w*:(VOLT|CURR|RES)\w*(?::DC)?\?", upper):
            return f"{self.measured.get(found[1], 0.0):.6E}"
        return None
