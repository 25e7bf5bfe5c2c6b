"""What a proof says: one finding per question and subject, in SI units and kelvin.

JSON and pages are made from these and from nothing else.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from railwright.surveys.curves import Curves

Array = NDArray[np.float64]
Verdict = Literal["falls short", "not proven", "marginal", "holds"]
WORST_FIRST: tuple[Verdict, ...] = ("falls short", "not proven", "marginal", "holds")


@dataclass(frozen=True)
class Place:
    """One operating point: settings [V], loads [A] per rail, input [V], ambient [K]."""

    outputs: Mapping[str, float]
    loads: Mapping[str, float]
    input: float
    ambient: float
    capacitances: Mapping[str, float] = field(default_factory=dict)
    """Across loads that may have some [F], where it matters."""


@dataclass(frozen=True)
class Share:
    """How much of a batch passes at the worst point, with its exact interval."""

    estimate: float
    low: float
    high: float
    samples: int


@dataclass(frozen=True)
class Looked:
    """What a finding rests on: operating points, samples at each worst one, engine lanes."""

    points: int
    samples: int
    lanes: int
    depth: str


@dataclass(frozen=True)
class Cause:
    """A part value that moves the margin, with its share of the spread of the margin.

    `instead` is filled where the value itself, and not its spread, is the likely mistake: it
    is what the value would have to be ("100 Ω instead of 1 kΩ").
    """

    part: str
    value: str
    share: float
    instead: str = ""


@dataclass(frozen=True)
class Change:
    """One change of the design file: a part's value, or the catalogue's part that it uses."""

    part: str
    value: str
    """Key of the part's table: `resistance`, `use` ..."""
    now: str
    to: str


@dataclass(frozen=True)
class Remedy:
    """A purchasable change that was proved to mend a finding and to break no other."""

    changes: tuple[Change, ...]
    before: float | None
    after: float | None
    """Margins, in the unit of the finding."""
    reserve: float | None
    """With the change."""
    lowers: tuple[str, ...] = ()
    """Other shortfalls that become greater by it, where several things are wrong at once."""


@dataclass(frozen=True)
class MarginMap:
    """Margins at the extreme vertices over the operating range.

    axes: name ("output main", "load main", "input", "ambient") -> places in V, A, V, K.
    margins: one number per combination, in the order of the axes; not-a-number where it is
    not known, infinite where the question does not arise.
    """

    axes: Mapping[str, Array]
    margins: Array


@dataclass(frozen=True)
class Finding:
    """The answer to one question about one subject (a part's ref, a rail or a net)."""

    id: str
    subject: str
    question: str
    verdict: Verdict
    because: str
    source: str
    unit: str = ""
    value: float | None = None
    """The quantity judged and its limit, in `unit` (absolute temperatures in kelvin)."""
    limit: float | None = None
    margin: float | None = None
    """Distance from the limit, positive is good (temperatures: kelvin)."""
    reserve: float | None = None
    where: Place | None = None
    passing: Share | None = None
    looked: Looked = Looked(0, 0, 0, "default")
    causes: Sequence[Cause] = ()
    assumed: Sequence[str] = ()
    map: MarginMap | None = field(default=None, repr=False)
    samples: Array | None = field(default=None, repr=False)
    """Margins of the samples at the worst point."""
    curves: Sequence[Curves] = field(default=(), repr=False)
    """What goes on at the worst place: waveforms, courses in time, responses."""
    remedies: Sequence[Remedy] = ()
    """The smallest first; empty where none was looked for or none was found."""
    wanted: float | None = None
    """The reserve below which it is only marginal."""


Severity = Literal["I", "II", "III", "IV", "not known", "not looked at"]
SEVERITIES: Mapping[Severity, str] = {
    "I": "the output goes above what the load survives",
    "II": "another part is destroyed or burns",
    "III": "the output is wrong or gone, or a part shuts down",
    "IV": "nothing that a user has of it",
    "not known": "it could not be found out",
    "not looked at": "nothing changes at rest",
}
"""What the classes mean, after the four of MIL-STD-1629A (from memory)."""


@dataclass(frozen=True)
class FaultRow:
    """One way in which one part fails, and what comes of it."""

    part: str
    mode: str
    share: float
    """Of the failures of the part, 0 to 1."""
    local: str
    """What becomes of the nets that the part is on."""
    effect: str
    """What becomes of the outputs."""
    severity: Severity
    seen: str
    """What acts, and what the person who uses the supply sees."""
    highest: Mapping[str, float] = field(default_factory=dict)
    """Per rail the highest voltage at the terminals [V]."""
    where: Place | None = None
    """The operating point of the local effect: where the output rises or moves most."""


@dataclass(frozen=True)
class NetRow:
    """What a net sees over the operating range, with typical parts."""

    net: str
    lowest: float
    """From the common net to this one [V]; over the range and the cycles of what switches."""
    chosen: float | None
    """At the chosen operating point; None where that is not solved."""
    highest: float
    current: float | None
    """The greatest effective value of what one part carries to or from it [A]; None where no part
    on it tells its current."""
    carried_by: str = ""
    """Ref of that part."""
    alternates: float = 0.0
    """Effective value, at the chosen point, of what a net of a supply on the mains has beside its
    mean [V]."""


@dataclass(frozen=True)
class Took:
    """What the whole proof cost."""

    seconds: float
    points: int
    samples: int
    lanes: int


@dataclass(frozen=True)
class Proof:
    """Everything that was found out about one design."""

    design: str
    seed: int
    findings: Sequence[Finding]
    not_asked: Sequence[str]
    cautions: Sequence[str]
    took: Took
    faults: Sequence[FaultRow] = ()
    """Single faults, in the order of the design's parts."""
    nets: Sequence[NetRow] = ()
    """What nets see, in the order of the design; empty where nobody asked for it."""
    losses: Mapping[str, float] = field(default_factory=dict)
    """By part the most that it turns into heat over the range [W], with typical parts; of those
    that tell it, and where what nets see was asked for."""
    nets_at: Place | None = None
    """The chosen operating point; None where nobody asked for what nets see."""

    @property
    def verdict(self) -> Verdict:
        """The worst verdict of all findings."""
        found = {finding.verdict for finding in self.findings}
        return next((v for v in WORST_FIRST if v in found), "not proven")

    @property
    def ledger(self) -> list[Finding]:
        """Findings by verdict, then by reserve, worst first."""

        def rank(finding: Finding) -> tuple[int, float]:
            reserve = finding.reserve
            return WORST_FIRST.index(finding.verdict), np.inf if reserve is None else reserve

        return sorted(self.findings, key=rank)
