"""A proposal as plain data for machines; `docs/json.md` describes every field."""

from __future__ import annotations

import math

from railwright.propose.candidates import Candidate, Proposal
from railwright.propose.power import Array, Power, PowerMap
from railwright.propose.reasons import reason
from railwright.prove.as_json import FORMAT
from railwright.prove.as_json import as_json as proof_as_json
from railwright.prove.proof import Finding
from railwright.quantity import celsius

NOTHING_SERVES, OPEN = 1, 3


def exit_status(proposal: Proposal) -> int:
    """0 a candidate holds or is marginal, 1 none serves, 3 the best one has something open."""
    if not proposal.candidates:
        return NOTHING_SERVES
    return OPEN if proposal.candidates[0].open else 0


def as_json(proposal: Proposal) -> dict[str, object]:
    """The proposal in plain dicts, lists, texts and numbers; candidates the best first."""
    best = proposal.recommended
    return {
        "format": FORMAT,
        "need": proposal.title,
        "recommended": None if best is None else best.architecture,
        "reason": reason(proposal),
        "candidates": [_candidate(each) for each in proposal.candidates],
        "refused": [
            {"architecture": each.architecture, "reason": each.reason, "proved": each.proved}
            for each in proposal.withdrawn
        ],
    }


def _candidate(candidate: Candidate) -> dict[str, object]:
    figures = candidate.figures
    return {
        "architecture": candidate.architecture,
        "verdict": candidate.proof.verdict,
        "depth": candidate.depth.name,
        "gives_up": candidate.gives_up,
        "hottest": _junction(figures.hottest),
        "heat_sinks": list(figures.sinks),
        "full_load": _power(figures.at_nominal),
        "worst_loss": _power(figures.at_worst),
        "over_range": _over_range(figures.over_range),
        "ripple": _value(figures.ripple),
        "noise": _value(figures.noise),
        "least_reserve": _least(figures.least),
        "parts": figures.parts,
        "price": figures.price,
        "assembly": {"hardest": figures.assembly[0], "packages": figures.assembly[1]},
        "not_proven": [f"{f.id} of {f.subject}" for f in candidate.open],
        "mended": [
            {"part": c.part, "value": c.value, "from": c.now, "to": c.to} for c in candidate.changes
        ],
        "proof": proof_as_json(candidate.proof),
        "file": candidate.text,
    }


def _junction(finding: Finding | None) -> dict[str, object] | None:
    if finding is None or finding.value is None:
        return None
    return {"subject": finding.subject, "temperature": float(celsius(finding.value))}


def _least(finding: Finding | None) -> dict[str, object] | None:
    if finding is None:
        return None
    return {"id": finding.id, "subject": finding.subject, "reserve": _number(finding.reserve)}


def _power(power: Power) -> dict[str, object]:
    return {
        "given": _number(power.given),
        "taken": _number(power.taken),
        "efficiency": _number(power.efficiency),
        "loss": _number(power.loss),
    }


def _over_range(found: PowerMap) -> dict[str, object]:
    return {
        "axes": {name: list(map(float, places)) for name, places in found.axes.items()},
        "given": _numbers(found.given),
        "taken": _numbers(found.taken),
    }


def _numbers(values: Array) -> list[float | None]:
    """Row after row, the last axis moving fastest."""
    return [_number(float(value)) for value in values.ravel()]


def _value(finding: Finding | None) -> float | None:
    return None if finding is None else _number(finding.value)


def _number(value: float | None) -> float | None:
    return None if value is None or not math.isfinite(value) else float(value)
