"""What a check is: a question about some subject, a margin in lanes, a reason in words.

A check is a class in a file of this folder, and is asked by existing (`checks.every`).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import ClassVar, Literal

import numpy as np
from numpy.typing import NDArray

from railwright.circuit.circuit import Part
from railwright.engine.model import Name
from railwright.quantity import show
from railwright.surveys.curves import Curves
from railwright.surveys.depth import QUICK, Depth
from railwright.surveys.extremes import Answer
from railwright.surveys.situations import AS_SET, Situation, View
from railwright.surveys.survey import Survey

Array = NDArray[np.float64]

Asked = NDArray[np.bool_] | bool


@dataclass(frozen=True)
class Worst:
    """The lane of the lowest margin, as a reason wants to tell it."""

    value: float
    limit: float
    margin: float
    place: str
    """The operating point in words."""
    view: View | None = None
    """That lane by itself, for a reason that tells more of it."""


class Question:
    """What every check says of itself."""

    id: ClassVar[str] = ""
    """Family and name: `headroom.series`."""
    question: ClassVar[str] = ""
    source: ClassVar[str] = ""
    analysis: ClassVar[str] = ""
    """For the check's page: margin and reserve as formulas, or what counts as a fault."""
    example: ClassVar[str] = ""
    """A worked example in words; sums in backticks (`12 V - 0.5 Ω × 1 A = 11.5 V`) are held."""


class Check(Question):
    """A question over the operating range and the spread of the parts.

    `situation` names how the knobs stand (`surveys.situations`). `margin` is in `unit`.
    """

    unit: ClassVar[str] = ""
    situation: ClassVar[Situation] = AS_SET
    says: ClassVar[str] = ""
    """The reason as a sentence with {subject}, {value}, {limit} and {place} in it."""

    def subjects(self, survey: Survey) -> Sequence[str]:
        """Refs of parts or names of rails that the question is put about."""
        raise NotImplementedError(type(self).__name__)

    def answer(self, view: View, subject: str) -> Answer:
        """Margin, value and limit over lanes."""
        raise NotImplementedError(type(self).__name__)

    def scale(self, survey: Survey, subject: str, worst: Worst) -> float:
        """What the margin is divided by to give the reserve, in `unit`; positive."""
        return abs(worst.limit)

    def wanted(self, survey: Survey) -> float:
        """The reserve below which a margin is only marginal."""
        return survey.fixture.design.need.parts.reserve

    def because(self, survey: Survey, subject: str, worst: Worst) -> str:
        """The reason in a sentence that a builder understands."""
        unit = self.unit_of(survey, subject)
        return self.says.format(
            subject=subject,
            value=show(worst.value, unit),
            limit=show(worst.limit, unit),
            place=worst.place,
        )

    def sought(self, survey: Survey, subject: str) -> str:
        """Kind of the parts whose places decide, more than what is solved; empty for none."""
        return ""

    def missing(self, survey: Survey, subject: str) -> str:
        """Why the question cannot be answered for lack of a value; empty where it can."""
        return ""

    def doubt(self, survey: Survey) -> str:
        """What leaves lanes unjudged that were solved, to follow "3 of 31 lanes"."""
        return "were solved, but tell no margin"

    def unit_of(self, survey: Survey, subject: str) -> str:
        """Unit of margin, value and limit."""
        return self.unit

    def curves(self, view: View, subject: str) -> Sequence[Curves]:
        """What a report draws of the worst lane, which `view` holds by itself."""
        return ()


class ObservedCheck(Check):
    """A question about every part that reports a value and its limit."""

    value: ClassVar[str] = ""
    limit: ClassVar[str] = ""
    """Names of the two observables."""
    must: ClassVar[Literal["reach", "not exceed"]] = "not exceed"
    """What the value must do to its limit."""
    least_scale: ClassVar[float] = 0.0
    """The scale is the limit, but not less than this, in `unit`."""

    def subjects(self, survey: Survey) -> Sequence[str]:
        return [part.ref for part in parts_that_observe(survey, self.value, self.limit)]

    def asked(self, view: View, subject: str) -> Asked:
        """Lanes in which the question arises."""
        return True

    def answer(self, view: View, subject: str) -> Answer:
        value, limit = view.at.of(subject, self.value), view.at.of(subject, self.limit)
        judged = at_least if self.must == "reach" else at_most
        return judged(value, limit, self.asked(view, subject))

    def scale(self, survey: Survey, subject: str, worst: Worst) -> float:
        return max(abs(worst.limit), self.least_scale)


def parts_that_observe(survey: Survey, *names: str) -> list[Part]:
    """Parts of the design whose kind reports all of these observables."""
    return [
        part
        for part in survey.fixture.circuit.parts
        if all(name in part.device.observes for name in names)
    ]


def unknown(ref: str, names: Sequence[str]) -> str:
    """Why a part cannot be judged of which nobody states these values; empty for none."""
    if not names:
        return ""
    listed = ", ".join(name.replace("_", " ") for name in names)
    return f"no {listed} is known for {ref}. State it, or name a catalogue part with use."


def at_most(value: Array, limit: Array | float, asked: Asked = True) -> Answer:
    """The answer of a value that must not exceed a limit; infinite margin where not asked."""
    return _answer(limit - value, value, limit, asked)


def at_least(value: Array, limit: Array | float, asked: Asked = True) -> Answer:
    """The answer of a value that must reach a limit; infinite margin where not asked."""
    return _answer(value - limit, value, limit, asked)


def within(deviation: Array, limit: Array | float) -> Answer:
    """The answer of a deviation that must not exceed a limit either way."""
    above, below = at_most(deviation, limit), at_most(-deviation, limit)
    return replace(at_most(np.abs(deviation), limit), margins=(above.margin, below.margin))


def least(answers: Sequence[Answer]) -> Answer:
    """In each lane the answer with the lowest margin; a search follows the margins of all."""
    margin = np.array([a.margin for a in answers])
    lowest, lane = np.argmin(margin, axis=0), np.arange(margin.shape[1])
    return Answer(
        margin[lowest, lane],
        np.array([a.value for a in answers])[lowest, lane],
        np.array([a.limit for a in answers])[lowest, lane],
        tuple(m for a in answers for m in a.margins or (a.margin,)),
    )


def _answer(margin: Array, value: Array, limit: Array | float, asked: Asked) -> Answer:
    return Answer(
        np.where(asked, margin, np.inf), value, np.broadcast_to(np.asarray(limit), value.shape)
    )


@dataclass(frozen=True)
class Mend:
    """A provisional mend: how the other questions look past a fault that was found already."""

    words: str
    """What is assumed, for the findings that lean on it."""
    bridge: tuple[str, str, float] | None = None
    """Two nets and a resistance [Ω] to join them by."""
    inputs: Mapping[Name, float] = field(default_factory=dict)
    """Inputs of parts to set."""


@dataclass(frozen=True)
class WiringFault:
    """A fault found in how the parts are joined."""

    subject: str
    because: str
    causes: Sequence[Name] = ()
    mend: Mend | None = None
    proven: bool = True
    """False where it could not be found out."""
    off: bool = False
    """Whether the subject is a part that is switched off when it should work."""


@dataclass(frozen=True)
class WiringAnswer:
    """What a wiring check found, and how many places it looked at."""

    looked: Sequence[str]
    """Subjects that were looked at."""
    faults: Sequence[WiringFault]


class WiringCheck(Question):
    """A question about how the parts are joined, without spread."""

    good: ClassVar[str] = ""
    """The reason in a sentence where nothing is wrong."""
    since: ClassVar[Depth] = QUICK
    """The least depth at which it is asked."""
    order: ClassVar[int] = 0
    """Lower ones come first: later ones see the circuit with the earlier ones' mends."""

    def look(self, survey: Survey) -> WiringAnswer:
        """Look at all places of the circuit."""
        raise NotImplementedError(type(self).__name__)


@dataclass(frozen=True)
class FaultAnswer:
    """What a question about single faults found out about one subject."""

    subject: str
    because: str
    """May have {place} in it, for the operating point."""
    causes: Sequence[tuple[str, str]] = ()
    """(ref, mode or rating), the worst first."""
    value: float | None = None
    limit: float | None = None
    point: int | None = None
    """Number of the operating point of the value, where one counts."""
    unknown: bool = False
    """Whether something could not be found out."""
    doubtful: bool = False
    """Whether it is marginal, although no demand of the need is broken."""


class FaultCheck(Question):
    """A question about the supply with any one part failed (`surveys.single_faults`)."""

    unit: ClassVar[str] = ""

    def answers(self, survey: Survey) -> Iterable[FaultAnswer]:
        """Look at all single faults."""
        raise NotImplementedError(type(self).__name__)
