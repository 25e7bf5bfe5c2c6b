"""How results are put in words and numbers, the same on the terminal and on paper."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from railwright.prove.proof import (
    WORST_FIRST,
    Finding,
    Looked,
    Place,
    Proof,
    Share,
    Took,
    Verdict,
)
from railwright.prove.words import in_words
from railwright.quantity import UNITS, show

NOTHING = "—"
GLYPHS: Mapping[Verdict, str] = {
    "falls short": "✗",
    "not proven": "?",
    "marginal": "~",
    "holds": "✓",
}
MEANINGS: Mapping[Verdict, str] = {
    "falls short": "beyond its limit at some operating point, with some parts of the spread",
    "not proven": "could not be found out; the reason is given, and it counts as open",
    "marginal": "within its limit, with less than the wanted reserve",
    "holds": "within its limit with the wanted reserve, wherever it was looked at",
}
_DIGITS = range(3, 8)
LEAST_READ = 1e-5
"""V, A or Ω below which nothing is read (common practice, no source)."""


def printable(text: str) -> str:
    """A text without control characters, which a name from a file could steer a terminal with."""
    return "".join(c if c.isprintable() else " " if c.isspace() else "\ufffd" for c in text)


def verdict(verdict: Verdict) -> str:
    """The word with its glyph."""
    return f"{GLYPHS[verdict]} {verdict}"


def quantity(value: float | None, unit: str, digits: int = 3) -> str:
    """A value with its unit; absolute temperatures come in kelvin and are shown in °C."""
    if value is None:
        return NOTHING
    if unit in UNITS:
        return show(value, unit, digits)
    return f"{value:.{digits}g} {unit}".rstrip()


def measurable(value: float, unit: str, digits: int = 3) -> str:
    """A value, as nil where no meter of a workshop tells it from that.

    >>> measurable(143e-9, "V"), measurable(5e-3, "V")
    ('0 V', '5 mV')
    """
    return quantity(value if abs(value) >= LEAST_READ else 0.0, unit, digits)


def told_apart(values: Sequence[float], unit: str) -> list[str]:
    """Texts of values with as many digits as it takes to tell them apart.

    >>> told_apart([2.4996, 2.5], "V")
    ['2.4996 V', '2.5 V']
    """
    for digits in _DIGITS:
        texts = [quantity(value, unit, digits) for value in values]
        if len(set(texts)) == len(set(values)):
            break
    return texts


def margin_unit(finding: Finding) -> str:
    """The unit of the margin: the difference of two temperatures is in kelvin."""
    return "K" if finding.unit == "°C" else finding.unit


def margin(finding: Finding) -> str:
    """Distance from the limit, with its sign."""
    found = finding.margin
    if found is None or math.isnan(found):
        return NOTHING
    return ("+" if found > 0 else "") + quantity(found, margin_unit(finding))


def value_and_limit(finding: Finding) -> tuple[str, str]:
    """The value, and its limit with the side on which it must stay, as "at least 2.5 V"."""
    value, limit = finding.value, finding.limit
    if limit is None:
        return quantity(value, finding.unit), ""
    if value is None:
        return NOTHING, f"limit {quantity(limit, finding.unit)}"
    shown, wanted = told_apart([value, limit], finding.unit)
    return shown, f"{_side(finding)} {wanted}"


def _side(finding: Finding) -> str:
    if finding.value is None or finding.limit is None or not finding.margin:
        return "limit"
    above = finding.value - finding.limit
    if math.isclose(finding.margin, above, rel_tol=1e-3):
        return "at least"
    return "at most" if math.isclose(finding.margin, -above, rel_tol=1e-3) else "limit"


def percent(reserve: float | None) -> str:
    """A reserve in percent that never rounds a shortage to nothing.

    >>> percent(-0.432), percent(0.0004), percent(25.0), percent(None)
    ('-43 %', '0.04 %', '> 999 %', '—')
    """
    if reserve is None or math.isnan(reserve):
        return NOTHING
    found = 100 * reserve
    if abs(found) > 999:
        return "> 999 %" if found > 0 else "< -999 %"
    if abs(found) >= 9.95:
        return f"{found:.0f} %"
    if abs(found) >= 0.95:
        return f"{found:.1f} %"
    return f"{found:.1g} %"


def place(where: Place | None) -> str:
    """An operating point in one line."""
    return NOTHING if where is None else printable(in_words(where))


def passing(share: Share | None) -> str:
    """How many of a batch pass, with its interval rounded outward."""
    if share is None:
        return NOTHING
    low, high = math.floor(share.low * 1000) / 10, math.ceil(share.high * 1000) / 10
    batch = f"{count(share.samples)} samples"
    if share.high >= 1:
        return f"all of {batch} pass: at least {low:g} % of a batch will"
    if share.low <= 0:
        return f"none of {batch} passes: at most {high:g} % of a batch will"
    least = min(share.estimate * 100, 99.9)  # less than all must not round to all
    return f"about {least:.3g} % pass: {low:g} % to {high:g} % of a batch, by {batch}"


def causes(finding: Finding, most: int | None = None) -> str:
    """What moves the margin, main ones first, with their shares of its spread; empty if unknown."""
    found = [cause for cause in finding.causes if not cause.instead][:most]
    if not has_spread(finding):
        return printable(", ".join(f"{cause.part} {cause.value}" for cause in found))
    told = ", ".join(f"{cause.part} {cause.value} {100 * cause.share:.0f} %" for cause in found)
    return printable(f"{told} of the spread" if told else "")


def mistakes(finding: Finding) -> str:
    """Values that are themselves the likely mistake, with what they would have to be.

    A connection has no value: what is said of it names its part.
    """
    likely = [cause for cause in finding.causes if cause.instead]
    told = (f"{c.part} {c.value}: {c.instead}" if c.value else c.instead for c in likely)
    return printable("; ".join(dict.fromkeys(told)))


def remedies(finding: Finding) -> str:
    """Changes that were proved to mend it, with what they leave."""
    told = []
    for remedy in finding.remedies:
        changes = [f"{c.part} {c.value} {c.to} instead of {c.now}" for c in remedy.changes]
        reserves = f"{percent(finding.reserve)} becomes {percent(remedy.reserve)}"
        lowers = f" (but {', '.join(remedy.lowers)} falls shorter)" if remedy.lowers else ""
        told.append(f"{' and '.join(changes)}: reserve {reserves}{lowers}")
    return printable("; ".join(told))


def has_spread(finding: Finding) -> bool:
    """Whether the shares of the causes are shares of a spread: a fault of wiring has none."""
    return finding.margin is not None


def looked(found: Looked) -> str:
    """What a finding rests on."""
    counted = {"points": found.points, "samples": found.samples, "lanes": found.lanes}
    told = [f"{count(number)} {what}" for what, number in counted.items() if number]
    return ", ".join([*told, f"depth {found.depth}"])


def took(proof: Proof) -> str:
    """What the proof cost, and the seed that repeats it."""
    return f"{proof.took.seconds:.1f} s: {extent(proof)}"


def extent(proof: Proof) -> str:
    """What the proof looked at, and the seed that repeats it: the same each time."""
    cost: Took = proof.took
    return (
        f"{count(cost.points)} operating points, {count(cost.samples)} samples, "
        f"{count(cost.lanes)} lanes; seed {proof.seed}"
    )


def count(number: int) -> str:
    r"""A number with its thousands parted.

    >>> count(31000) == "31\N{NO-BREAK SPACE}000"
    True
    """
    return f"{number:,}".replace(",", "\N{NO-BREAK SPACE}")


def counts(findings: Sequence[Finding]) -> str:
    """How many findings there are of each verdict, worst first."""
    tally = {each: sum(f.verdict == each for f in findings) for each in WORST_FIRST}
    told = [f"{number} × {word}" for word, number in tally.items() if number]
    return ", ".join(told) or "no question was asked"


def of_verdict(proof: Proof, wanted: Verdict) -> list[Finding]:
    """The findings of one verdict, in the order of the ledger."""
    return [finding for finding in proof.ledger if finding.verdict == wanted]


def assumptions(findings: Sequence[Finding]) -> Mapping[str, Sequence[int]]:
    """Every assumption once -> the numbers, from 1, of the findings that lean on it."""
    leaning: dict[str, list[int]] = {}
    for number, finding in enumerate(findings, 1):
        for assumed in finding.assumed:
            leaning.setdefault(assumed, []).append(number)
    return leaning
