"""Measured against predicted as plain data for machines; `docs/json.md` describes every field."""

from __future__ import annotations

from collections.abc import Sequence

from railwright.bench.reading import At
from railwright.circuit.design import Design
from railwright.measure.compared import Compared
from railwright.quantity import celsius

FORMAT = 1
"""Counts up when a field goes, or changes its meaning; not when one is added."""


def as_json(design: Design, found: Sequence[Compared]) -> dict[str, object]:
    """All comparisons in plain dicts, lists, texts and numbers; temperatures in °C."""
    return {"format": FORMAT, "design": design.title, "measured": [_row(each) for each in found]}


def _row(each: Compared) -> dict[str, object]:
    seen, told = each.observed, each.expected
    return {
        "id": seen.id,
        "subject": seen.rail,
        "unit": seen.unit,
        "at": _at(seen.at),
        "value": seen.value,
        "error": seen.error,
        "meter": seen.meter,
        "taken": seen.taken or None,
        "predicted": None
        if told is None
        else {"low": told.low, "nominal": told.nominal, "high": told.high},
        "limit": None if told is None else told.limit,
        "margin": each.margin,
        "verdict": each.verdict,
        "kept": each.is_kept,
        "because": each.why,
    }


def _at(at: At) -> dict[str, float | None]:
    air = None if at.ambient is None else celsius(at.ambient)
    return {"output": at.setting, "load": at.load, "input": at.input, "ambient": air}
