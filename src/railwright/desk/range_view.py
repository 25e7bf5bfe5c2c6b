"""Range and circuit: changing values, undoing, saving, and what a value moves."""

from __future__ import annotations

import json
from collections.abc import Mapping
from functools import partial
from pathlib import Path
from threading import Lock
from typing import Any

from starlette.routing import Route

from railwright.circuit.design import Design
from railwright.circuit.writer import set_value
from railwright.desk.answers import Refused, Work, answering, text
from railwright.desk.desk import Desk
from railwright.desk.opened import Edit, Opened, State
from railwright.desk.shown import Data, point_as_data, slopes_as_data, state_as_data
from railwright.make.drawing import drawing
from railwright.quantity import kelvin
from railwright.surveys.operating_range import BeyondRange, Choice

Sent = Mapping[str, Any]


def routes(desk: Desk) -> list[Route]:
    """All that may be asked here."""
    posts: dict[str, Work] = {
        "open": partial(_open, desk),
        "value": partial(_value, desk),
        "changes": partial(_changes, desk),
        "text": partial(_text, desk),
        "undo": partial(_changed, desk, Opened.undo),
        "redo": partial(_changed, desk, Opened.redo),
        "reload": partial(_changed, desk, Opened.reload),
        "save": partial(_save, desk),
        "cancel": partial(_cancel, desk),
        "remedies": partial(_remedies, desk),
    }
    return [
        *(Route(f"/api/{name}", answering(work), methods=["POST"]) for name, work in posts.items()),
        Route("/api/slopes", answering(partial(_slopes, desk))),
        Route("/api/drawing", answering(_Drawings(desk).whole)),
        Route("/api/point", answering(partial(_point, desk))),
    ]


def _open(desk: Desk, sent: Sent) -> Data:
    return state_as_data(desk.open(desk.folder / Path(text(sent, "file"))))


def _edited(desk: Desk, edit: Edit, joins: str = "") -> Data:
    return state_as_data(desk.change(lambda opened: opened.edit(edit, joins)))


def _value(desk: Desk, sent: Sent) -> Data:
    ref, key, new = (text(sent, name) for name in ("part", "value", "text"))
    joins = f"{ref} {key}" if sent.get("typing") is True else ""
    return _edited(desk, lambda old: set_value(old, ref, key, new), joins)


def _changes(desk: Desk, sent: Sent) -> Data:
    """Several values at once: a remedy."""
    several = sent.get("changes")
    if not isinstance(several, list) or not all(isinstance(each, dict) for each in several):
        raise Refused("changes is missing, or is no list of changes.")

    def edit(old: str) -> str:
        for each in several:
            ref, key, new = (text(each, name) for name in ("part", "value", "to"))
            old = set_value(old, ref, key, new)
        return old

    return _edited(desk, edit)


def _text(desk: Desk, sent: Sent) -> Data:
    whole = text(sent, "text")
    return _edited(desk, lambda _: whole)


def _changed(desk: Desk, change: Any, _: Sent) -> Data:
    return state_as_data(desk.change(change))


def _save(desk: Desk, sent: Sent) -> Data:
    def saved(opened: Opened) -> State:
        return opened.save(over=sent.get("over") is True)

    return state_as_data(desk.change(saved))


def _cancel(desk: Desk, _: Sent) -> Data:
    desk.cancel()
    return {}


def _remedies(desk: Desk, _: Sent) -> Data:
    if not desk.seek_remedies():
        raise Refused("Remedies are sought for a proof at depth default, which is not done yet.")
    return {}


def _slopes(desk: Desk, sent: Sent) -> Data:
    """How a value moves the margins of the map that the page has."""
    ref, value = text(sent, "part"), text(sent, "value")
    mapped = desk.mapped()
    try:
        found = desk.moving.slopes(mapped.state.design, ref, value)
    except ValueError as error:
        raise Refused(str(error)) from error
    told = slopes_as_data(found, mapped.asked, mapped.points)
    return {"revision": mapped.state.revision, **told}


class _Drawings:
    """The drawing of what is open: it takes a while, and the last one is kept."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._turn = Lock()
        self._known: tuple[Design, str] | None = None

    def whole(self, _: Sent) -> Data:
        """As SVG."""
        state = self._desk.opened.state()
        with self._turn:
            if self._known is None or self._known[0] is not state.design:
                need = state.design.is_need_only
                self._known = state.design, "" if need else drawing(state.design).svg()
            return {"revision": state.revision, "svg": self._known[1]}


def _point(desk: Desk, sent: Sent) -> Data:
    """What stands at one operating point: axes of the map with a place each."""
    design = desk.opened.state().design
    if design.is_need_only:
        raise Refused("There is no circuit yet, the file has a need alone.")
    try:
        return point_as_data(desk.moving.at_point(design, _choice(design, text(sent, "at"))))
    except BeyondRange as error:
        raise Refused(str(error)) from error


def _choice(design: Design, at: str) -> Choice:
    """A point from JSON: axis -> V, A or °C. Refused where it is none."""
    try:
        told = {str(name): float(value) for name, value in json.loads(at).items()}
        rails = [output.name for output in design.need.output]
        return Choice(
            {rail: told[f"output {rail}"] for rail in rails},
            {rail: told[f"load {rail}"] for rail in rails},
            told["input"],
            kelvin(told["ambient"]),
        )
    except (ValueError, TypeError, AttributeError, KeyError) as error:
        raise Refused(f"that is no operating point of this need: {error}.") from error
