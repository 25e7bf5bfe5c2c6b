"""Sheets as one page that needs no network and no script."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import singledispatch
from html import escape
from importlib.resources import files
from string import Template

from railwright.pages.sheet import (
    Block,
    Caution,
    Figures,
    Grid,
    Picture,
    Points,
    Section,
    Sheet,
    Words,
)
from railwright.pages.wording import printable

# The policy makes a browser refuse whatever a name from a design file might smuggle in.
_PAGE = Template("""\
<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'unsafe-inline'">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>$title: $name</title>
<style>
$style</style>
</head>
<body>
$body
</body>
</html>
""")


def html(sheets: Sequence[Sheet]) -> str:
    """The page as text, with contents where there are several; the same sheets, the same bytes."""
    first = sheets[0]
    style = files("railwright.pages").joinpath("report.css").read_text(encoding="utf-8")
    parts = [_contents(sheets)] if len(sheets) > 1 else []
    parts += [_sheet(sheet, number) for number, sheet in enumerate(sheets, 1)]
    return _PAGE.substitute(
        title=_text(first.title), name=_text(first.name), style=style, body="\n".join(parts)
    )


def _text(text: str) -> str:
    return escape(printable(text))


def _contents(sheets: Sequence[Sheet]) -> str:
    links = [
        f'<li><a href="#sheet-{number}">{_text(sheet.name)}</a></li>'
        for number, sheet in enumerate(sheets, 1)
    ]
    return f'<nav aria-label="Contents"><ol>{"".join(links)}</ol></nav>'


def _sheet(sheet: Sheet, number: int) -> str:
    lead = f'<p class="over">{_text(sheet.lead)}</p>' if sheet.lead else ""
    head = (
        f'<header id="sheet-{number}"><p class="over">{_text(sheet.title)}</p>'
        f"<h1>{_text(sheet.name)}</h1>{lead}</header>"
    )
    return "\n".join([head, "<main>", *(_section(each) for each in sheet.sections), "</main>"])


def _section(section: Section) -> str:
    heading = f"<h2>{_text(section.heading)}</h2>" if section.heading else ""
    return "\n".join([heading, *(_block(block) for block in section.blocks)])


@singledispatch
def _block(block: Block) -> str:
    raise NotImplementedError(type(block).__name__)


@_block.register
def _(block: Words) -> str:
    return f"<p>{_text(block.text)}</p>"


@_block.register
def _(block: Points) -> str:
    kind = "ol" if block.numbered else "ul"
    return f"<{kind}>{_items(block.items)}</{kind}>"


@_block.register
def _(block: Caution) -> str:
    return f'<section class="caution"><h3>Caution</h3><ul>{_items(block.items)}</ul></section>'


@_block.register
def _(block: Grid) -> str:
    heads = "".join(f'<th scope="col">{_text(head)}</th>' for head in block.heads)
    head = f"<thead><tr>{heads}</tr></thead>" if heads else ""
    rows = "".join(f"<tr>{''.join(_cells(row, len(block.widths)))}</tr>" for row in block.rows)
    return f'<div class="scroll"><table>{head}<tbody>{rows}</tbody></table></div>'


@_block.register
def _(block: Picture) -> str:
    return f"<figure>{_svg(block)}<figcaption>{_text(block.caption)}</figcaption></figure>"


@_block.register
def _(block: Figures) -> str:
    cells = [
        f"<figure>{_block(Words(text))}{''.join(_svg(each) for each in pictures)}</figure>"
        for text, pictures in block.items
    ]
    return f'<div class="figures">{"".join(cells)}</div>'


def _svg(picture: Picture) -> str:
    """A drawing of ours, not a text of the design: its names were escaped when it was drawn."""
    return picture.svg[picture.svg.index("<svg") :]


def _items(items: Sequence[str]) -> str:
    return "".join(f"<li>{_text(item)}</li>" for item in items)


def _cells(row: Sequence[str], width: int) -> Iterator[str]:
    for cell in (*row, *[""] * (width - len(row))):
        yield f"<td>{_text(cell)}</td>"
