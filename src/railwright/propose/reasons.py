"""Why one candidate is recommended, in two sentences."""

from __future__ import annotations

from collections.abc import Mapping

from railwright.pages import wording
from railwright.propose.candidates import Candidate, Proposal
from railwright.prove.proof import Verdict
from railwright.quantity import show

_VERB: Mapping[Verdict, str] = {
    "holds": "holds",
    "marginal": "is marginal, but holds",
    "not proven": "has something open, and else holds",
    "falls short": "falls short",
}


def reason(proposal: Proposal) -> str:
    """What speaks for the recommended one, and against the next; empty where there is none."""
    best = proposal.recommended
    if best is None:
        return ""
    least = best.figures.least
    reserve = (
        f", with a least reserve of {wording.percent(least.reserve)} ({least.id} of "
        f"{least.subject})"
        if least
        else ""
    )
    first = (
        f"The {best.architecture} one {_VERB[best.proof.verdict]} at depth {best.depth.name}"
        f"{reserve}, and loses {show(best.figures.at_worst.loss, 'W')} at worst."
    )
    others = [c for c in proposal.candidates if c is not best]
    if not others:
        return f"{first} It is the only kind that serves this need."
    return f"{first} {_against(best, others[0])}"


def _against(best: Candidate, other: Candidate) -> str:
    """Where the best one is better than the next, in the order in which they are ranked."""
    what = f"Against the {other.architecture} one"
    if other.depth.rank < best.depth.rank:
        return f"{what} it was proved deeper."
    counted: tuple[Verdict, Verdict] = ("not proven", "marginal")
    for verdict in counted:
        ours, theirs = _count(best, verdict), _count(other, verdict)
        if ours != theirs:
            return f"{what} it has {ours} instead of {theirs} questions {verdict}."
    if best.figures.price != other.figures.price:
        return f"{what} its parts cost {best.figures.price} instead of {other.figures.price}."
    losses = [round(each.figures.at_worst.loss, 1) for each in (best, other)]
    if losses[0] != losses[1]:
        return f"{what} it loses {show(losses[0], 'W')} instead of {show(losses[1], 'W')}."
    if best.figures.parts != other.figures.parts:
        return f"{what} it has {best.figures.parts} instead of {other.figures.parts} parts."
    return f"{what} nothing tells them apart but the name."


def _count(candidate: Candidate, verdict: Verdict) -> int:
    return sum(f.verdict == verdict for f in candidate.proof.findings)
