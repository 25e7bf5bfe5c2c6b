"""A proposal on a terminal: candidates side by side, what was refused, what is recommended."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

import numpy as np
from rich.console import RenderableType
from rich.rule import Rule
from rich.table import Table
from rich.text import Text

from railwright.pages import wording
from railwright.pages.ledger import STYLES
from railwright.pages.narrow import Narrow, listed
from railwright.propose.candidates import Candidate, Proposal
from railwright.propose.power import Power
from railwright.propose.reasons import reason
from railwright.prove.proof import Finding

NONE, NOT_LOOKED_AT = "none", "not looked at"
_NAME = 15
"""Columns for what a row is about."""

Cell = Callable[[Candidate], str | Text]


class SideBySide(Narrow):
    """A proposal for `rich` to print, at any width from about 60 columns."""

    def __init__(self, proposal: Proposal) -> None:
        self._proposal = proposal

    def parts(self) -> Iterator[RenderableType]:
        proposal = self._proposal
        yield headline(proposal)
        if proposal.candidates:
            yield Rule(style="dim")
            yield _table(proposal.candidates)
            yield Rule(style="dim")
        refused = [f"{each.architecture}: {each.reason}" for each in proposal.withdrawn]
        yield from listed("Cannot serve it", refused)
        found = [
            f"{each.architecture}: {finding.subject}: {finding.question} {finding.because}"
            for each in proposal.candidates
            for finding in each.open
        ]
        yield from listed("Not proven", found)
        yield from _recommendation(proposal)


def headline(proposal: Proposal) -> Text:
    """One line: the need, how many kinds of supply serve it, which one is recommended."""
    served, asked = len(proposal.candidates), len(proposal.candidates) + len(proposal.withdrawn)
    best = proposal.recommended
    told = f": {served} of {asked} kinds of supply serve it"
    recommended = f"; recommended: {best.architecture}" if best else ""
    title = (wording.printable(proposal.title), "bold")
    return Text.assemble(title, told, (recommended, "bold"))


def _recommendation(proposal: Proposal) -> Iterator[RenderableType]:
    best = proposal.recommended
    if proposal.candidates:
        yield Text()
    if best is not None:
        yield Text.assemble((f"Recommended: {best.architecture}. ", "bold"), reason(proposal))
    elif proposal.candidates:
        yield Text("None is recommended: none was proved at depth default or deeper.")


def _table(candidates: Sequence[Candidate]) -> Table:
    table = Table.grid(expand=True, padding=(0, 2, 0, 0), pad_edge=False)
    table.add_column(width=_NAME, overflow="fold")
    for _ in candidates:
        table.add_column(ratio=1, overflow="fold")
    for name, cell in ROWS:
        table.add_row(Text(name, style="dim"), *[_shown(cell(each)) for each in candidates])
    return table


def _shown(cell: str | Text) -> Text:
    return cell if isinstance(cell, Text) else Text(wording.printable(cell))


def _verdict(candidate: Candidate) -> Text:
    verdict = candidate.proof.verdict
    return Text(wording.verdict(verdict), style=STYLES[verdict])


def _heat(candidate: Candidate) -> str:
    found = candidate.figures.hottest
    if found is None:
        return NONE
    part = found.subject.partition(" ")[0]
    use = candidate.design.circuit.part(part).use
    return f"{wording.quantity(found.value, '°C')} in {part}, {use}, {wording.place(found.where)}"


def _least(candidate: Candidate) -> str:
    found = candidate.figures.least
    if found is None:
        return NONE
    return f"{wording.percent(found.reserve)}, {found.id} of {found.subject}"


def _efficiency(power: Power) -> str:
    return f"{wording.percent(power.efficiency)}, {wording.quantity(power.loss, 'W')} lost"


def _over_range(candidate: Candidate) -> str:
    found = candidate.figures.over_range.efficiency
    if np.isnan(found).all():
        return NONE
    least, most = (wording.percent(float(at)) for at in (np.nanmin(found), np.nanmax(found)))
    return f"{least} to {most}"


def _at_output(found: Finding | None) -> str:
    return NOT_LOOKED_AT if found is None else wording.quantity(found.value, found.unit)


def _by_hand(candidate: Candidate) -> str:
    hardest, count = candidate.figures.assembly
    return f"{hardest} ({count})"


ROWS: tuple[tuple[str, Cell], ...] = (
    ("", lambda c: Text(c.architecture, style="bold")),
    ("verdict", _verdict),
    ("proved at depth", lambda c: c.depth.name),
    ("worst heat", _heat),
    ("heat sink", lambda c: ", ".join(c.figures.sinks) or NONE),
    ("full load", lambda c: _efficiency(c.figures.at_nominal)),
    ("worst loss", lambda c: wording.quantity(c.figures.at_worst.loss, "W")),
    ("efficiency", _over_range),
    ("ripple", lambda c: _at_output(c.figures.ripple)),
    ("noise", lambda c: _at_output(c.figures.noise)),
    ("least reserve", _least),
    ("parts, price", lambda c: f"{c.figures.parts}, {c.figures.price}"),
    ("by hand", _by_hand),
    ("gives up", lambda c: c.gives_up),
)
