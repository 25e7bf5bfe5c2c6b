"""All steady states of a circuit: of latches, and of sources and loads that meet more than once.

Searched for from many starts: two-state parts held and let go, sources and loads walked from
either side, starts spread over the unknowns, curves that lead from one state to the next. No
search by starts can prove that nothing is missing; the signs of the states can prove that
something is (see `degree`), and then the search goes on.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from railwright.engine.degree import balance
from railwright.engine.kernel import Announce
from railwright.engine.linear import Linear, linearise, solved_each
from railwright.engine.model import Lanes, Model
from railwright.engine.poles import NEGLIGIBLE, Verdict, poles
from railwright.engine.quiescent import quiescent
from railwright.engine.search import DIRECTIONS, SPREAD, Search
from railwright.engine.solutions import OperatingPoints
from railwright.engine.two_state import two_state_parts

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]
Index = NDArray[np.intp]

PASSIVE = 1e-9
"""Least share of its own conductances that a net must absorb more than it is given."""


@dataclass(frozen=True)
class SteadyStates:
    """The steady states that were found over lanes, each with a verdict on its stability."""

    points: OperatingPoints
    """One lane for each state, those of one lane of the circuit side by side."""
    lane: Index
    """Which lane of the circuit each state belongs to."""
    verdict: tuple[Verdict, ...]
    """Whether small disturbances of each state decay, temperatures held."""
    because: tuple[str, ...]
    """What each verdict rests on, in words."""
    sign: Array
    """1 or -1 for each state (see `degree`); 0 where it is not known."""
    count: int
    """Number of lanes of the circuit."""
    tried: str
    """What the search tried, in words."""

    def of(self, lane: int) -> Index:
        """The states of one lane of the circuit."""
        return np.flatnonzero(self.lane == lane)

    @property
    def stable(self) -> Mask:
        """States in which small disturbances are known to decay."""
        return np.array([each == "stable" for each in self.verdict], bool)

    @property
    def balance(self) -> Array:
        """Sum of the signs over lanes, 1 where none is missing; not-a-number where unknown."""
        return balance(self.sign, self.lane, self.count)

    @property
    def labels(self) -> tuple[str, ...]:
        """A name for each state: its lane, its place there, its verdict, its two-state parts."""
        parts = two_state_parts(self.points.model)
        levels = {ref: np.clip(self.points.unknown(ref, "state"), 0.0, 1.0) for ref in parts}
        found = []
        for k, lane in enumerate(self.lane):
            own = self.of(int(lane))
            place = f"lane {lane}, state {1 + int(np.searchsorted(own, k))} of {own.size}"
            at = ", ".join(f"{ref} {row[k]:.3g}" for ref, row in levels.items())
            found.append(f"{place}, {self.verdict[k]}" + (f": {at}" if at else ""))
        return tuple(found)

    def completeness(self, lane: int) -> str:
        """What is known about states that were not found, in words."""
        own = self.of(lane)
        if not own.size:
            return f"No steady state was found. {self.tried}"
        total = self.balance[lane]
        if np.isnan(total):
            said = "their signs are not known for sure, so that their number cannot be checked"
        elif total == 1.0:
            said = "their signs add up to +1, as they must: states can be missing in pairs only"
        else:
            said = (
                f"their signs add up to {total:+.0f} instead of +1: at least "
                f"{abs(1.0 - total):.0f} more must exist, unless a part gives or takes power "
                "without bound"
            )
        found = "steady state was" if own.size == 1 else "steady states were"
        return f"{own.size} {found} found; {said}. {self.tried}"


def steady_states(
    model: Model,
    lanes: Lanes,
    count: int,
    spread: int = SPREAD,
    directions: int = DIRECTIONS,
    seed: int = 1,
    announce: Announce | None = None,
) -> SteadyStates:
    """All steady states of `count` lanes that a search from many starts finds.

    lanes: values, inputs and system parameters that differ from nominal, as numbers or arrays
    (lane), SI. spread: starts spread over the unknowns of each lane. directions: curves followed
    through each state that is found; most of the time goes there. seed: of what is chosen at
    random. announce: told before a first compilation.

    Verdicts come from the poles of the linearised circuit. Where nothing stores energy, a state
    is stable if its nets absorb power whatever their small changes, since then any capacitances
    of theirs only discharge. A state of sign -1 is unstable in either case, unless an input is
    solved for. Temperatures are held, save in that sign.
    """
    search = Search(model, lanes, count, seed, announce)
    tried = [
        search.held(),
        search.walked(),
        search.spread(spread),
        search.followed(directions),
        search.completed(),
    ]
    points, lane, sign = search.solutions()
    verdict, because = _verdicts(points, sign) if lane.size else ((), ())
    said = (
        f"Tried: {'; '.join(filter(None, tried))}. A search from starts cannot prove that there "
        "are no others."
    )
    return SteadyStates(points, lane, verdict, because, sign, count, said)


def _verdicts(points: OperatingPoints, sign: Array) -> tuple[tuple[Verdict, ...], tuple[str, ...]]:
    """Verdicts on states, and what they rest on."""
    linear = linearise(quiescent(points))
    found = poles(linear)
    moving = np.abs(np.nan_to_num(found.value)) > NEGLIGIBLE
    absorbing = _absorbing(linear)
    # An input that is solved for turns signs in its own way: they tell of the search only.
    negative = (sign < 0.0) & (not points.model.topology.solvable)
    said = [
        _verdict(found.verdict[k] if moving[k].any() else None, bool(negative[k]), absorbing[k])
        for k in range(points.count)
    ]
    return tuple(verdict for verdict, _ in said), tuple(because for _, because in said)


def _verdict(by_poles: Verdict | None, negative: bool, absorbing: bool) -> tuple[Verdict, str]:
    """One state's verdict; by_poles is None where no pole could be judged."""
    if by_poles == "unstable":
        return "unstable", "a disturbance grows"
    if negative:
        return "unstable", "its determinant has the sign that only unstable states have"
    if by_poles == "stable":
        return "stable", "all disturbances decay"
    if by_poles == "undecided":
        return "undecided", "a pole lies on the edge, or could not be computed"
    if absorbing:
        return "stable", "nothing is stored, and the nets absorb power"
    return "undecided", "nothing is stored that could tell"


def _absorbing(linear: Linear) -> Mask:
    """States whose nets absorb power whatever their small changes.

    With all other unknowns eliminated, capacitances of the nets (any C, symmetric and positive)
    obey C dv/dt = -G v, and v C v only falls where the symmetric part of G is positive.
    """
    conductive, _ = linear.matrices
    nets = np.array([u.balanced and u.unit == "V" for u in linear.topology.unknowns])
    at = [conductive[:, rows][:, :, columns] for rows in (nets, ~nets) for columns in (nets, ~nets)]
    reduced = at[0] - at[1] @ solved_each(at[3], at[2])
    own = np.diagonal(reduced, axis1=1, axis2=2)
    finite = np.isfinite(reduced).all(axis=(1, 2))
    usable = np.asarray(finite & (own > 0.0).all(axis=1), bool)
    scale = np.sqrt(np.where(usable[:, None], own, 1.0))
    even = reduced / scale[:, :, None] / scale[:, None, :]
    even = np.where(usable[:, None, None], even + even.transpose(0, 2, 1), -1.0)
    positive: Mask = np.linalg.eigvalsh(even)[:, 0] > PASSIVE
    return usable & positive
