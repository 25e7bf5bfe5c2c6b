"""What a proof asks of the ratings of each part, and what may stand in a part's place.

A rating that is needed is the one of which the derating policy would allow just what the part
sees at its worst place: rating x value / limit of the finding.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping

from railwright.catalogue.entry import Entry, KnownValue
from railwright.circuit.circuit import Part
from railwright.make.document import Job
from railwright.prove.proof import Finding

Needed = Mapping[str, float]
"""Rating -> the least that serves, in the unit of the rating."""


def needed(job: Job) -> Mapping[str, Needed]:
    """Per part, what every finding about its ratings asks; absolute temperatures are left out.

    A junction's limit is no rating that is bought: heat sinks are.
    """
    found: dict[str, dict[str, float]] = defaultdict(dict)
    parts = {part.ref: part for part in job.design.circuit.parts}
    for finding in job.proof.findings:
        ref, _, rating = finding.subject.partition(" ")
        if ref not in parts or rating not in parts[ref].ratings:
            continue
        asked = _asked(parts[ref], rating, finding)
        if asked is not None:
            found[ref][rating] = max(asked, found[ref].get(rating, 0.0))
    return found


def _asked(part: Part, rating: str, finding: Finding) -> float | None:
    if finding.value is None or not finding.limit or finding.unit in ("", "°C"):
        return None
    if finding.unit != part.device.ratings[rating].unit:
        return None
    return part.ratings[rating] * abs(finding.value) / finding.limit


def currents(job: Job) -> Mapping[str, float]:
    """Per part the greatest current that a finding about its ratings saw [A]."""
    found: dict[str, float] = {}
    parts = {part.ref: part for part in job.design.circuit.parts}
    for finding in job.proof.findings:
        ref, _, rating = finding.subject.partition(" ")
        if ref in parts and rating in parts[ref].ratings and finding.unit == "A":
            found[ref] = max(abs(finding.value or 0.0), found.get(ref, 0.0))
    return found


def substitutes(part: Part, asked: Needed, catalogue: Mapping[str, Entry]) -> list[str]:
    """Catalogue parts of which the proof holds as well, by name.

    Same kind, choices, package and pins; every value within the spread that was proved; every
    rating at least what is needed; windows no tighter. All else would have to be proved.
    """
    own = catalogue.get(part.use)
    if own is None:
        return []
    return sorted(
        other.name
        for other in catalogue.values()
        if other is not own and _goes_where(own, other) and _covered(part, own, other, asked)
    )


def _goes_where(own: Entry, other: Entry) -> bool:
    alike = (own.kind, own.package, own.pins, own.options)
    return alike == (other.kind, other.package, other.pins, other.options)


def _covered(part: Part, own: Entry, other: Entry, asked: Needed) -> bool:
    if own.values.keys() != other.values.keys():
        return False
    return _windows_kept(own, other) and all(
        # Of a rating that no finding is about no less will do: nobody looked.
        known.spread.typical >= asked.get(name, part.ratings[name])
        if name in part.ratings
        else _inside(part, own.values[name], known, name)
        for name, known in other.values.items()
    )


def _inside(part: Part, mine: KnownValue, known: KnownValue, name: str) -> bool:
    """Whether a value lies within what was proved; of a grade, within its tolerance."""
    proved = mine.spread if mine.relative else part.values[name].spread
    found = known.spread
    return (
        mine.relative == known.relative
        and proved.low <= found.low
        and found.high <= proved.high
        and found.drift <= proved.drift
    )


def _windows_kept(own: Entry, other: Entry) -> bool:
    def within(name: str) -> bool:
        mine, theirs = own.windows.get(name), other.windows[name]
        if mine is None:
            return False
        return theirs.bounds[0] <= mine.bounds[0] and mine.bounds[1] <= theirs.bounds[1]

    return all(within(name) for name in other.windows)


def most_of(several: Iterable[Needed]) -> Needed:
    """What serves every one of some parts."""
    found: dict[str, float] = {}
    for each in several:
        for rating, least in each.items():
            found[rating] = max(least, found.get(rating, 0.0))
    return found
