"""A proof on a terminal: what was left open first, then one row per finding, worst first."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping

from rich.console import RenderableType
from rich.padding import Padding
from rich.rule import Rule
from rich.table import Table
from rich.text import Text

from railwright.pages import wording
from railwright.pages.narrow import GAP, Narrow, listed, row_of_three
from railwright.prove.proof import Finding, Proof, Verdict

_VERDICT, _VALUE = 17, 30  # columns; the question gets the rest
_CELLS = 4  # on each side of a bar's limit, which stands for ±100 % of reserve
_CAUSES = 3
STYLES: Mapping[Verdict, str] = {
    "falls short": "bold red",
    "not proven": "bold magenta",
    "marginal": "bold yellow",
    "holds": "green",
}


class Ledger(Narrow):
    """A proof for `rich` to print, at any width from about 60 columns."""

    def __init__(self, proof: Proof) -> None:
        self._proof = proof

    def parts(self) -> Iterator[RenderableType]:
        proof = self._proof
        yield headline(proof)
        unproven = [f"{f.subject}: {f.question}" for f in wording.of_verdict(proof, "not proven")]
        yield from listed("Not proven", unproven)
        yield from listed("Not asked", proof.not_asked)
        yield from listed("Cautions", proof.cautions)
        yield Text()
        yield _row(Text("verdict, reserve"), Text("question"), Text("value and limit, worst at"))
        yield Rule(style="dim")
        for finding in proof.ledger:
            yield from _finding(finding)
        yield Rule(style="dim")
        yield Text(wording.took(proof), style="dim")


def headline(proof: Proof) -> Text:
    """One line: the design, its verdict, how many questions came out how."""
    return Text.assemble(
        (wording.printable(proof.design), "bold"),
        ": ",
        (wording.verdict(proof.verdict), STYLES[proof.verdict]),
        f" ({wording.counts(proof.findings)}; {wording.count(len(proof.not_asked))} not asked)",
    )


def _finding(finding: Finding) -> Iterator[RenderableType]:
    judged = ", ".join(filter(None, wording.value_and_limit(finding)))
    yield _row(
        Text.assemble(
            (wording.verdict(finding.verdict), STYLES[finding.verdict]),
            f"\n{wording.percent(finding.reserve):>7} {bar(finding.reserve)}",
        ),
        Text.assemble(
            (f"{wording.printable(finding.subject)}: ", "bold"),
            wording.printable(finding.question),
        ),
        Text(f"{judged}\n{wording.place(finding.where)}" if finding.where else judged),
    )
    details = [(label, text) for label, text in _details(finding) if text]
    for label, text in details:
        detail = Text.assemble((label, "bold"), wording.printable(text))
        yield Padding(detail, (0, 0, 0, _VERDICT + GAP))
    if details:
        yield Text()


def _details(finding: Finding) -> Iterator[tuple[str, str]]:
    """What stands below a row: reasons where something is open, assumptions everywhere."""
    if finding.verdict != "holds":
        yield "", finding.because
        yield "likely mistake: ", wording.mistakes(finding)
        yield "remedy: ", wording.remedies(finding)
        yield "causes: ", wording.causes(finding, _CAUSES)
    yield "assumed: ", ", ".join(finding.assumed)


def bar(reserve: float | None) -> str:
    """A reserve as a bar from its limit, `│`, to the right, or to the left for a shortage.

    >>> bar(0.3), bar(-0.8), bar(None)
    ('····│██··', '████│····', '')
    """
    if reserve is None or math.isnan(reserve):
        return ""
    filled = min(_CELLS, math.ceil(min(abs(reserve), 1.0) * _CELLS))
    line = "█" * filled + "·" * (_CELLS - filled)
    empty = "·" * _CELLS
    return f"{line[::-1]}│{empty}" if reserve < 0 else f"{empty}│{line}"


def _row(verdict: Text, question: Text, value: Text) -> Table:
    return row_of_three(_VERDICT, _VALUE, (verdict, question, value))
