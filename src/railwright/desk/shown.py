"""What the page is given: plain data, temperatures in °C, texts as the other outputs have them."""

from __future__ import annotations

import base64
from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from railwright.circuit.circuit import Part
from railwright.desk.opened import State
from railwright.pages import wording
from railwright.pages.curve_figures import figures_of
from railwright.pages.drawing import FILE
from railwright.propose.candidates import Proposal
from railwright.prove.as_json import as_json
from railwright.prove.at_point import AtPoint
from railwright.prove.proof import Finding, MarginMap, Proof
from railwright.prove.typical import Asked, Slopes
from railwright.quantity import UNITS, celsius, show
from railwright.surveys.depth import DEFAULT, FINE

Data = dict[str, object]
ALIKE = 1e-9
"""Share of margins within which they are all one."""
SAME = 1e-9
"""Share of a place by which the same place may differ in two maps."""


def state_as_data(state: State) -> Data:
    """What is open, without its proof."""
    design = state.design
    return {
        "revision": state.revision,
        "file": design.path.name if design.path else "",
        "title": wording.printable(design.title),
        "saved": state.saved,
        "can_undo": state.can_undo,
        "can_redo": state.can_redo,
        "elsewhere": state.elsewhere,
        "broken": state.broken,
        "need_only": design.is_need_only,
        "text": state.text,
        "parts": [_part(part) for part in design.circuit.parts],
    }


def _part(part: Part) -> Data:
    return {
        "ref": part.ref,
        "kind": part.kind,
        "block": part.block,
        "use": part.use,
        "why": part.why,
        "warning": part.warning,
        "pins": dict(part.pins),
        "values": [
            {
                "name": name,
                "unit": value.unit,
                "typical": value.spread.typical,
                "text": _exactly(value.spread.typical, value.unit),
                "low": wording.quantity(value.spread.low, value.unit),
                "high": wording.quantity(value.spread.high, value.unit),
                "source": value.source,
                "assumed": value.assumed,
            }
            for name, value in part.values.items()
        ],
        "ratings": {name: float(value) for name, value in part.ratings.items()},
    }


def _exactly(value: float, unit: str) -> str:
    """A value as one would type it, with as many digits as it has, up to six."""
    return show(value, unit, 6) if unit in UNITS else f"{value:.6g}"


def proof_as_data(revision: int, proof: Proof, depth: str) -> Data:
    """A proof with texts for what the page shows of every finding."""
    told = as_json(proof)
    checks = told["checks"]
    assert isinstance(checks, list)
    for check, finding in zip(checks, proof.ledger, strict=True):
        judged, limit = wording.value_and_limit(finding)
        check["words"] = {
            "judged": judged,
            "limit": limit,
            "margin": wording.margin(finding),
            "reserve": wording.percent(finding.reserve),
            "place": wording.place(finding.where) if finding.where else "",
            "causes": wording.causes(finding, 3),
            "mistakes": wording.mistakes(finding),
            "unit": wording.margin_unit(finding),
        }
        check["histogram"] = histogram(finding)
    return {"revision": revision, "depth": depth, "proof": told, "heat": _heat(proof)}


def histogram(finding: Finding, bins: int = 24) -> Data | None:
    """How the samples' margins lie; None where there are few, or all are one."""
    if finding.samples is None:
        return None
    known = finding.samples[np.isfinite(finding.samples)]
    if known.size < bins or np.ptp(known) <= ALIKE * np.abs(known).max():
        return None
    counts, edges = np.histogram(known, bins)
    return {"counts": counts.tolist(), "low": float(edges[0]), "high": float(edges[-1])}


def _heat(proof: Proof) -> Mapping[str, float]:
    """Part -> least reserve of temperature that any question found, for the drawing."""
    found: dict[str, float] = {}
    for finding in proof.findings:
        if finding.id.startswith("heat.") and finding.reserve is not None:
            part = finding.subject.split(" ")[0]
            found[part] = min(finding.reserve, found.get(part, np.inf))
    return found


def map_as_data(revision: int, fine: Proof, whole: Proof | None = None) -> Data:
    """Margins of all questions that were put to the whole range, over the points of a fine proof.

    whole: a proof over fewer points, whose margins count where it looked. axes: name -> places, in
    the order of the points, the last running fastest. margins: base64 of float32, little-endian,
    (check, point); not-a-number where not known, infinite where the question does not arise. scale:
    margin divided by it is the reserve.
    """
    asked = _of_whole_range(fine)
    known = {(f.id, f.subject): f.map for f in whole.findings} if whole else {}
    axes = asked[0].map.axes if asked and asked[0].map else {}
    return {
        "revision": revision,
        "depth": FINE.name if whole is None else DEFAULT.name,
        "axes": {
            name: (celsius(places) if name == "ambient" else places).tolist()
            for name, places in axes.items()
        },
        "checks": [_mapped(finding) for finding in asked],
        "margins": packed(
            [laid_over(f.map, known.get((f.id, f.subject))).ravel() for f in asked if f.map]
        ),
    }


def laid_over(fine: MarginMap, coarse: MarginMap | None) -> NDArray[np.float64]:
    """Margins of a fine map, at the places of a coarse one those of that."""
    margins = np.array(fine.margins)
    if coarse is None or list(coarse.axes) != list(fine.axes):
        return margins
    at = []
    for name, places in coarse.axes.items():
        apart = np.abs(fine.axes[name][:, None] - places)
        if (apart.min(axis=0) > SAME * np.abs(places)).any():
            return margins  # not the same range
        at.append(apart.argmin(axis=0))
    margins[np.ix_(*at)] = coarse.margins
    return margins


def rows_of(proof: Proof) -> tuple[list[Asked], int]:
    """What the rows of a map are of, and how many points each has."""
    asked = _of_whole_range(proof)
    points = asked[0].map.margins.size if asked and asked[0].map else 0
    return [(finding.id, finding.subject) for finding in asked], points


def _of_whole_range(proof: Proof) -> list[Finding]:
    """Findings over the same axes as most, that have a reserve."""
    able = [
        f
        for f in proof.ledger
        if f.map is not None and f.margin and f.reserve and np.isfinite(f.reserve)
    ]
    shapes = [tuple((n, p.size) for n, p in f.map.axes.items()) for f in able if f.map]
    if not shapes:
        return []
    usual = max(set(shapes), key=shapes.count)
    return [f for f, shape in zip(able, shapes, strict=True) if shape == usual]


def _mapped(finding: Finding) -> Data:
    assert finding.margin
    assert finding.reserve
    return {
        "id": finding.id,
        "subject": finding.subject,
        "question": finding.question,
        "unit": wording.margin_unit(finding),
        "scale": finding.margin / finding.reserve,
        "wanted": finding.wanted or 0.0,
    }


def point_as_data(found: AtPoint) -> Data:
    """One operating point; `heat`: part, watts, its hottest place in °C or None."""
    parts = sorted(found.heat, key=lambda ref: -found.heat[ref])
    hot = {ref: float(celsius(kelvin)) for ref, kelvin in found.junctions.items()}
    return {
        "place": wording.place(found.place),
        "nets": list(found.volts.items()),
        "heat": [(ref, found.heat[ref], hot.get(ref)) for ref in parts],
        "waves": [
            svg
            for rail, curves in found.ripple.items()
            for _, svg in figures_of([curves], rail, "waves", FILE)
        ],
    }


def slopes_as_data(found: Slopes, asked: Sequence[Asked], points: int) -> Data:
    """How a value moves margins, in the order of a map's checks; packed as its margins are."""
    lost = np.full(points, np.nan)

    def rows(which: Mapping[Asked, NDArray[np.float64]]) -> str:
        several = [which.get(each, lost) for each in asked]
        return packed([row if row.size == points else lost for row in several])

    return {"typical": found.typical, "up": rows(found.up), "down": rows(found.down)}


def packed(rows: Sequence[NDArray[np.float64]]) -> str:
    """Rows of one length as base64 of little-endian float32."""
    whole = np.array(rows, dtype="<f4") if rows else np.empty(0, "<f4")
    return base64.b64encode(whole.tobytes()).decode("ascii")


def proposal_as_data(found: Proposal) -> Data:
    """Candidates side by side, as `propose --json` has them."""
    from railwright.propose.as_json import as_json as proposal

    told = proposal(found)
    candidates = told["candidates"]
    assert isinstance(candidates, list)
    for data in candidates:
        del data["proof"], data["over_range"]  # large, and not looked at side by side
    return told
