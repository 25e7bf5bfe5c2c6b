"""Two proofs on a terminal: what differs between the designs, then what that did, worst first."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence

from rich.console import RenderableType
from rich.padding import Padding
from rich.rule import Rule
from rich.table import Table
from rich.text import Text

from railwright.circuit.differences import Difference, PartDifference
from railwright.pages import wording
from railwright.pages.ledger import STYLES
from railwright.pages.narrow import GAP, Narrow, listed, row_of_three
from railwright.prove.compare import CHANGES, Change, Compared, ComparedFault, Comparison
from railwright.prove.proof import Finding

_WORD, _RESERVE, _VALUE = 14, 11, 18  # columns; the question gets the rest
_VERDICT = 2 + _WORD + _RESERVE
_HEADINGS: Mapping[Change, str] = {
    "worse": "Worse",
    "new": "Asked now, and not before",
    "better": "Better",
    "gone": "Asked before, and not now",
}
_WORDS: Mapping[Change, str] = {
    "worse": "worse",
    "new": "new",
    "better": "better",
    "gone": "gone",
    "same": "as before",
}
ARROW, NOT_ASKED = "→", "not asked"


class Changes(Narrow):
    """A comparison for `rich` to print, at any width from about 60 columns."""

    def __init__(self, comparison: Comparison) -> None:
        self._comparison = comparison

    def parts(self) -> Iterator[RenderableType]:
        found = self._comparison
        yield headline(found)
        yield from listed("Parts that differ", list(map(part_told, found.differences.parts)))
        yield from listed("Nets with another name", list(map(_told, found.differences.nets)))
        yield from listed("Around the circuit", list(map(_told, found.differences.around)))
        if not any((found.differences.parts, found.differences.nets, found.differences.around)):
            yield Text("Nothing differs between the two designs.")
        yield from listed("Not asked any more", found.asked_no_more)
        yield from listed("Asked now", found.asked_now)
        for change in CHANGES:
            yield from _group(_HEADINGS[change], found.of(change))
        faults = list(map(_fault, found.faults))
        if faults:
            yield Text()
        yield from listed("Single faults of another severity", faults)
        yield Text()
        yield Rule(style="dim")
        yield from listed("As before", list(as_before(found)))
        for proof in (found.before, found.after):
            yield Text(wording.took(proof), style="dim")


def headline(found: Comparison) -> Text:
    """One line: both designs with their verdicts, and how many questions went which way."""
    before, after = found.before, found.after
    titles = dict.fromkeys(wording.printable(proof.design) for proof in (before, after))
    tally = Counter(each.change for each in found.compared)
    told = ", ".join(f"{tally[each]} {_WORDS[each]}" for each in (*CHANGES, "same") if tally[each])
    return Text.assemble(
        (f" {ARROW} ".join(titles), "bold"),
        ": ",
        (wording.verdict(before.verdict), STYLES[before.verdict]),
        f" {ARROW} ",
        (wording.verdict(after.verdict), STYLES[after.verdict]),
        f" ({told or 'no question was asked'})",
    )


def as_before(found: Comparison) -> Iterator[str]:
    """What stays open, one by one, and how many hold as before."""
    same = [each.told for each in found.of("same")]
    for finding in same:
        if finding.verdict != "holds":
            yield (
                f"{wording.verdict(finding.verdict)}, {wording.percent(finding.reserve)}: "
                f"{finding.subject}: {finding.question}"
            )
    sound = sum(finding.verdict == "holds" for finding in same)
    yield f"{wording.count(sound)} × holds"


def part_told(part: PartDifference) -> str:
    """A part that differs, in one line."""
    if part.change == "changed":
        return f"{part.ref}: {'; '.join(map(_told, part.differences))}"
    gone = part.change == "removed"
    told = [_with_name(d.what, d.before if gone else d.after) for d in part.differences]
    return f"{part.ref} {part.change}: {', '.join(told)}"


def _fault(fault: ComparedFault) -> str:
    before, after = (f.severity if f else "none" for f in (fault.before, fault.after))
    effect = f": {fault.after.effect}" if fault.after else ""
    return f"{fault.told.part} {fault.told.mode}: {before} {ARROW} {after}{effect}"


def _with_name(what: str, value: str) -> str:
    return value if what in ("kind", "use") else f"{what} {value}"


def _told(difference: Difference) -> str:
    before, after = (each or "nothing" for each in (difference.before, difference.after))
    return f"{difference.what.replace('_', ' ')} {before} {ARROW} {after}"


def _group(heading: str, compared: Sequence[Compared]) -> Iterator[RenderableType]:
    if not compared:
        return
    yield Text()
    yield Text(heading, style="bold")
    yield Rule(style="dim")
    for each in compared:
        yield _row(each)
        if each.after is not None and each.after.verdict != "holds":
            told = Text(wording.printable(each.after.because))
            yield Padding(told, (0, 0, 0, _VERDICT + GAP))


def _row(each: Compared) -> Table:
    """Before above, after below: verdict and reserve at the left, the value at the right."""
    told = each.told
    question = Text.assemble(
        (f"{wording.printable(told.subject)}: ", "bold"), wording.printable(told.question)
    )
    if each.before and each.after and each.before.verdict == each.after.verdict == "holds":
        cells = _held(each.before, each.after), question, Text(_moved(each))
    else:
        lines = [_verdict("  ", each.before), _verdict(f"{ARROW} ", each.after)]
        cells = Text("\n").join(lines), question, Text(_values(each))
    return row_of_three(_VERDICT, _VALUE, cells)


def _held(before: Finding, after: Finding) -> Text:
    """What holds as before, with another reserve."""
    reserves = f" {ARROW} ".join(wording.percent(finding.reserve) for finding in (before, after))
    return Text.assemble("  ", (wording.verdict("holds"), STYLES["holds"]), f" {reserves}")


def _moved(each: Compared) -> str:
    return f" {ARROW} ".join(
        wording.quantity(finding.value, finding.unit)
        for finding in (each.before, each.after)
        if finding is not None
    )


def _verdict(lead: str, finding: Finding | None) -> Text:
    if finding is None:
        return Text(f"{lead}{NOT_ASKED}", style="dim")
    word = f"{wording.verdict(finding.verdict):<{_WORD}}"
    reserve = "" if finding.reserve is None else wording.percent(finding.reserve)
    return Text.assemble(lead, (word, STYLES[finding.verdict]), f"{reserve:>{_RESERVE}}")


def _values(each: Compared) -> str:
    found = [
        "" if finding is None or finding.value is None else wording.value_and_limit(finding)[0]
        for finding in (each.before, each.after)
    ]
    return "\n".join([*found, wording.value_and_limit(each.told)[1]]).rstrip()
