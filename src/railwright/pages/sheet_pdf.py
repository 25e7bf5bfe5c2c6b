"""Sheets on paper: A4 as PDF, in the same words as the page."""

from __future__ import annotations

import json
from collections.abc import Sequence
from functools import singledispatch
from importlib.resources import files
from typing import Any

from railwright.pages.paper import breakable, compiled, pictures
from railwright.pages.sheet import Block, Caution, Figures, Grid, Picture, Points, Sheet, Words
from railwright.pages.wording import printable


def pdf(sheets: Sequence[Sheet]) -> bytes:
    """The PDF, each sheet on a page of its own; the same sheets give the same bytes."""
    return compiled(_template(), _inputs(sheets))


def pages(sheets: Sequence[Sheet], ppi: float = 80.0) -> list[bytes]:
    """The same pages as PNG, with so many points to an inch."""
    return pictures(_template(), _inputs(sheets), ppi)


def _template() -> bytes:
    return files("railwright.pages").joinpath("sheet.typ").read_bytes()


def _inputs(sheets: Sequence[Sheet]) -> dict[str, str]:
    return {"sheets": json.dumps([_plain(sheet) for sheet in sheets])}


def _plain(sheet: Sheet) -> dict[str, Any]:
    return {
        "title": _text(sheet.title),
        "name": _text(sheet.name),
        "lead": _text(sheet.lead),
        "sections": [
            {"heading": _text(each.heading), "blocks": [_block(block) for block in each.blocks]}
            for each in sheet.sections
        ],
    }


def _text(text: str) -> str:
    return str(breakable(printable(text)))


@singledispatch
def _block(block: Block) -> dict[str, Any]:
    raise NotImplementedError(type(block).__name__)


@_block.register
def _(block: Words) -> dict[str, Any]:
    return {"kind": "words", "text": _text(block.text)}


@_block.register
def _(block: Points) -> dict[str, Any]:
    kind = "steps" if block.numbered else "points"
    return {"kind": kind, "items": [_text(item) for item in block.items]}


@_block.register
def _(block: Caution) -> dict[str, Any]:
    return {"kind": "caution", "items": [_text(item) for item in block.items]}


@_block.register
def _(block: Grid) -> dict[str, Any]:
    count = len(block.widths)
    return {
        "kind": "grid",
        "heads": [_text(head) for head in block.heads],
        "widths": list(block.widths),
        "rows": [[_text(c) for c in (*row, *[""] * (count - len(row)))] for row in block.rows],
    }


@_block.register
def _(block: Figures) -> dict[str, Any]:
    items = [
        {"text": _text(text), "svgs": [each.svg for each in pictures]}
        for text, pictures in block.items
    ]
    return {"kind": "figures", "items": items}


@_block.register
def _(block: Picture) -> dict[str, Any]:
    caption = _text(block.caption)
    return {
        "kind": "picture",
        "svg": block.svg,
        "caption": caption,
        "width": block.width,
        "turned": block.turned,
    }
