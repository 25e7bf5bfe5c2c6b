"""A proof as plain data for machines; `docs/json.md` describes every field."""

from __future__ import annotations

import math
from collections.abc import Mapping

from railwright.circuit.differences import Difference
from railwright.prove.compare import CHANGES, Compared, Comparison
from railwright.prove.proof import (
    Cause,
    FaultRow,
    Finding,
    Looked,
    Place,
    Proof,
    Remedy,
    Share,
    Took,
    Verdict,
)
from railwright.quantity import celsius

FORMAT = 1
"""Counts up when a field goes, or changes its meaning; not when one is added."""
EXIT_STATUS: Mapping[Verdict, int] = {
    "holds": 0,
    "marginal": 0,
    "falls short": 1,
    "not proven": 3,
}


def exit_status(proof: Proof) -> int:
    """What the command ends with: 0 holds or marginal, 1 falls short, 3 not proven."""
    return EXIT_STATUS[proof.verdict]


def as_json(proof: Proof) -> dict[str, object]:
    """The proof in plain dicts, lists, texts and numbers, checks in the order of the ledger.

    SI units, but absolute temperatures in °C. What is not finite is None: JSON has no word for
    it, and a reader must not take it for a number.
    """
    return {
        "format": FORMAT,
        "design": proof.design,
        "verdict": proof.verdict,
        "seed": int(proof.seed),
        "checks": [_check(finding) for finding in proof.ledger],
        "not_asked": list(proof.not_asked),
        "cautions": list(proof.cautions),
        "took": _took(proof.took),
        "faults": [_fault(row) for row in proof.faults],
    }


def _fault(row: FaultRow) -> dict[str, object]:
    return {
        "part": row.part,
        "mode": row.mode,
        "share": _number(row.share),
        "local": row.local,
        "effect": row.effect,
        "severity": row.severity,
        "seen": row.seen,
        "highest": {rail: _number(volts) for rail, volts in row.highest.items()},
        "where": _place(row.where),
    }


def comparison_as_json(found: Comparison) -> dict[str, object]:
    """Two proofs side by side: what differs, and every question whose answer did change."""
    changed = [each for change in CHANGES for each in found.of(change)]
    differ = found.differences
    return {
        "format": FORMAT,
        "before": _head(found.before),
        "after": _head(found.after),
        "parts": [
            {
                "ref": part.ref,
                "change": part.change,
                "differences": [_difference(each) for each in part.differences],
            }
            for part in differ.parts
        ],
        "nets": [_difference(each) for each in differ.nets],
        "around": [_difference(each) for each in differ.around],
        "checks": [_compared(each) for each in changed],
        "same": [_compared(each) for each in found.of("same")],
        "faults": [
            {
                "part": each.told.part,
                "mode": each.told.mode,
                "before": None if each.before is None else _fault(each.before),
                "after": None if each.after is None else _fault(each.after),
            }
            for each in found.faults
        ],
    }


def _head(proof: Proof) -> dict[str, object]:
    whole = as_json(proof)
    return {name: whole[name] for name in ("design", "verdict", "seed", "not_asked", "took")}


def _difference(found: Difference) -> dict[str, object]:
    return {"what": found.what, "before": found.before, "after": found.after}


def _compared(each: Compared) -> dict[str, object]:
    return {
        "id": each.told.id,
        "subject": each.told.subject,
        "question": each.told.question,
        "change": each.change,
        "before": None if each.before is None else _check(each.before),
        "after": None if each.after is None else _check(each.after),
    }


def _check(finding: Finding) -> dict[str, object]:
    return {
        "id": finding.id,
        "subject": finding.subject,
        "question": finding.question,
        "verdict": finding.verdict,
        "value": _in_unit(finding.value, finding.unit),
        "limit": _in_unit(finding.limit, finding.unit),
        "unit": finding.unit,
        "margin": _number(finding.margin),
        "reserve": _number(finding.reserve),
        "wanted": _number(finding.wanted),
        "where": _place(finding.where),
        "yield": _share(finding.passing),
        "looked": _looked(finding.looked),
        "causes": [_cause(cause) for cause in finding.causes],
        "assumed": list(finding.assumed),
        "because": finding.because,
        "remedies": [_remedy(remedy) for remedy in finding.remedies],
        "source": finding.source,
    }


def _number(value: float | None) -> float | None:
    """A float of Python's own, or None where there is no finite number."""
    return None if value is None or not math.isfinite(value) else float(value)


def _in_unit(value: float | None, unit: str) -> float | None:
    return _celsius(value) if unit == "°C" else _number(value)


def _celsius(value: float | None) -> float | None:
    number = _number(value)
    # The difference of kelvins leaves a residue in the last digits, which would be read as data.
    return None if number is None else round(celsius(number), 9)


def _place(where: Place | None) -> dict[str, object] | None:
    if where is None:
        return None
    return {
        "outputs": {rail: _number(volts) for rail, volts in where.outputs.items()},
        "loads": {rail: _number(amperes) for rail, amperes in where.loads.items()},
        "input": _number(where.input),
        "ambient": _celsius(where.ambient),
        **_capacitances(where),
    }


def _capacitances(where: Place) -> dict[str, object]:
    """What is across the loads, where it matters."""
    if not where.capacitances:
        return {}
    return {"capacitances": {rail: _number(c) for rail, c in where.capacitances.items()}}


def _share(share: Share | None) -> dict[str, object] | None:
    if share is None:
        return None
    return {
        "estimate": _number(share.estimate),
        "low": _number(share.low),
        "high": _number(share.high),
        "samples": int(share.samples),
    }


def _looked(looked: Looked) -> dict[str, object]:
    return {
        "points": int(looked.points),
        "samples": int(looked.samples),
        "lanes": int(looked.lanes),
        "depth": looked.depth,
    }


def _cause(cause: Cause) -> dict[str, object]:
    plain: dict[str, object] = {
        "part": cause.part,
        "value": cause.value,
        "share": _number(cause.share),
    }
    return plain | {"instead": cause.instead} if cause.instead else plain


def _remedy(remedy: Remedy) -> dict[str, object]:
    first, *others = [
        {"part": c.part, "value": c.value, "from": c.now, "to": c.to} for c in remedy.changes
    ]
    plain: dict[str, object] = {
        **first,
        "margin_before": _number(remedy.before),
        "margin": _number(remedy.after),
        "reserve": _number(remedy.reserve),
    }
    plain |= {"lowers": list(remedy.lowers)} if remedy.lowers else {}
    return plain | {"together_with": others} if others else plain


def _took(took: Took) -> dict[str, object]:
    return {
        "seconds": _number(took.seconds),
        "points": int(took.points),
        "samples": int(took.samples),
        "lanes": int(took.lanes),
    }
