"""The whole simulated bench: four instruments at addresses of VISA, and hands that do as told."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass

import numpy as np

from railwright.bench.hidden import Hidden, suspects
from railwright.bench.instruments.profile import Kind
from railwright.bench.reading import Meter, Place
from railwright.bench.simulated.instruments import (
    Noise,
    SimulatedLoad,
    SimulatedMultimeter,
    SimulatedOscilloscope,
    SimulatedSupply,
)
from railwright.bench.simulated.serving import Trouble, Troubled, serving
from railwright.bench.simulated.stand import Stand
from railwright.bench.steps import UNPOWERED, Step
from railwright.circuit.design import Design
from railwright.circuit.need import Output
from railwright.files.mistakes import nearest
from railwright.surveys.fixture import terminals
from railwright.surveys.suspects import Suspect

ANY = "any"
"""Asks for a fault that nobody chose."""
ENOUGH = 100.0
"""A; of bench sources that a person would have to set, where several are wanted."""
TURNS = 12
"""Halvings of its travel within which a hand sets a knob: to a fifteenth of a degree."""
SCOPE_NOISE = 1e-3
"""V effective, of a usual oscilloscope at its finest range (common practice, no source)."""


class FaultError(ValueError):
    """A fault that is none of this design: what is near."""


def fault_of(design: Design, words: str, seed: int) -> Suspect:
    """What is to be wrong, by its words such as `R7 open`, or any at random.

    FaultError where nothing of these words can be wrong.
    """
    several = [each for each in suspects(design) if each.changes]
    if words == ANY:
        weights = np.array([each.weight for each in several])
        drawn = np.random.default_rng([seed, 7]).choice(len(several), p=weights / weights.sum())
        return several[int(drawn)]
    known = {each.words: each for each in several}
    if words not in known:
        raise FaultError(f'"{words}" cannot be wrong here. {nearest(words, known)}')
    return known[words]


@dataclass
class Hands:
    """Does what a person is asked to do on the bench."""

    stand: Stand

    def ready(self, step: Step) -> str:
        """Fit what the stage wants, connect the source."""
        self.stand.stage = step.stage
        return ""

    def read(self, step: Step) -> str:
        """Put the meter's leads where they are wanted; the meter reads by itself.

        Where several bench sources are wanted, which no instrument here is, they are set too.
        """
        self.ready(step)
        self.stand.leads = step.place
        if step.stage != UNPOWERED and step.feed is None:
            nominal = self.stand.design.need.input.voltage.nominal
            first = next(iter(self.stand.built.bench.fixture.feeds.values()))
            self.stand.change(volts=nominal * first, amperes=ENOUGH, on=True)
        return ""

    def connect(self, rail: Output, text: str) -> str:
        """Put load, scope and leads at a rail's terminals of the whole supply."""
        nets = terminals(rail)
        self.stand.stage, self.stand.rail = "", rail.name
        self.stand.leads = Place("voltage", nets.plus, nets.minus)
        return ""

    def turn(self, part: str, volts: float, text: str) -> str:
        """Turn a knob until the terminals have a voltage, as near as a hand can."""
        ends = (0.0, 1.0)
        at = {end: self._turned(part, end) for end in ends}
        rising = at[1.0] > at[0.0]
        low, high = ends
        for _ in range(TURNS):
            middle = 0.5 * (low + high)
            if (self._turned(part, middle) < volts) == rising:
                low = middle
            else:
                high = middle
        return ""

    def _turned(self, part: str, position: float) -> float:
        with self.stand.one_by_one:
            self.stand.turn(part, position)
            return self.stand.terminal_voltage()

    def join(self, joined: bool, text: str) -> str:
        """The scope's probe on its own clip, or back."""
        self.stand.joined = joined
        return ""


@dataclass(frozen=True)
class SimulatedBench:
    """What stands there."""

    stand: Stand
    hands: Hands
    addresses: Mapping[Kind, str]
    instruments: Mapping[Kind, Troubled]


@contextmanager
def simulated_bench(
    design: Design,
    hidden: Hidden,
    meter: Meter,
    troubles: Mapping[Kind, Sequence[Trouble]] | None = None,
) -> Iterator[SimulatedBench]:
    """A bench with a supply of a design on it, of which something may be hidden.

    meter: how far the multimeter, and source and load reading for themselves, are off at most.
    troubles: what goes wrong with which instrument.
    """
    stand = Stand(design, hidden)
    seed = hidden.seed
    half = 0.5 * meter.share
    made = {
        "supply": SimulatedSupply(stand, Noise(seed, half)),
        "multimeter": SimulatedMultimeter(stand, Noise(seed + 1, half)),
        "load": SimulatedLoad(stand, Noise(seed + 2, half)),
        "oscilloscope": SimulatedOscilloscope(stand, Noise(seed + 3, 0.02, SCOPE_NOISE)),
    }
    own: dict[Kind, Troubled] = {
        kind: Troubled(made[kind], *(troubles or {}).get(kind, ()))
        for kind in ("supply", "multimeter", "load", "oscilloscope")
    }
    with ExitStack() as stack:
        addresses = {kind: stack.enter_context(serving(each)) for kind, each in own.items()}
        yield SimulatedBench(stand, Hands(stand), addresses, own)
