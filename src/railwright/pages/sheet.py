"""A document to read: headings, paragraphs, tables, pictures, cautions, steps, in plain results.

`sheet_html` and `sheet_pdf` lay it out; both show the same words.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field


@dataclass(frozen=True)
class Words:
    """A paragraph."""

    text: str


@dataclass(frozen=True)
class Points:
    """A list of texts; numbered where their order matters."""

    items: Sequence[str]
    numbered: bool = False


@dataclass(frozen=True)
class Caution:
    """What can hurt somebody or destroy something, set apart."""

    items: Sequence[str]


@dataclass(frozen=True)
class Grid:
    """A table. A row may be shorter than `widths`: the rest is left to be filled in by hand."""

    heads: Sequence[str]
    """Empty where the rows need none."""
    rows: Sequence[Sequence[str]]
    widths: Sequence[float]
    """Per column its share of the room there is; nil for one that is as wide as it must be."""


@dataclass(frozen=True)
class Picture:
    """A drawing as SVG, with what it shows."""

    svg: str
    caption: str
    width: float = 1.0
    """Of the page's."""
    turned: bool = False
    """Whether paper has it along its longer side."""


@dataclass(frozen=True)
class Figures:
    """Figures with what they are about, two side by side where there is room."""

    items: Sequence[tuple[str, Sequence[Picture]]]
    """Text above, and the pictures that belong to it."""


Block = Words | Points | Caution | Grid | Picture | Figures


@dataclass(frozen=True)
class Section:
    """Blocks under a heading."""

    heading: str
    blocks: Sequence[Block]


@dataclass(frozen=True)
class Sheet:
    """One document; several are bound to a report in their order."""

    title: str
    """Of the supply."""
    name: str
    """Of the document."""
    sections: Sequence[Section]
    lead: str = field(default="")
    """What stands below the title: what it is made from."""
