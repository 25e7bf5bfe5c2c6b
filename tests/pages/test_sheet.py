"""Sheets as a page and on paper: every word is there, and a name from a file stays a text."""

from __future__ import annotations

from dataclasses import replace
from html.parser import HTMLParser

import pytest
from pages.fake_proof import HOSTILE

from railwright.pages.sheet import Block, Caution, Grid, Picture, Points, Section, Sheet, Words
from railwright.pages.sheet_html import html
from railwright.pages.sheet_pdf import _plain, pdf

SVG = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="10mm" height="10mm"><title>drawn</title></svg>'
)
BLOCKS: tuple[Block, ...] = (
    Words("a paragraph"),
    Points(["first", "second"], numbered=True),
    Points(["this", "that"]),
    Caution(["hot"]),
    Grid(("ref", "value", "by hand"), [("R1", "10 kΩ")], (0, 1, 1)),
    Picture(SVG, "a picture"),
)
SHEET = Sheet("Bench", "Bill", [Section("Parts", BLOCKS)], "from a proof")


class Reader(HTMLParser):
    """The texts of a page, and the tags that it opens."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.texts: list[str] = []
        self.tags: list[str] = []
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)

    def handle_data(self, data: str) -> None:
        self.texts.append(data)


def all_texts(data: object) -> list[str]:
    if isinstance(data, str):
        return [data]
    values = data.values() if isinstance(data, dict) else data if isinstance(data, list) else []
    return [text for each in values for text in all_texts(each)]


def test_every_word_is_on_the_page_and_on_paper() -> None:
    said = ["Bench", "Bill", "Parts", "from a proof", "a paragraph", "first", "second", "this"]
    said += ["that", "hot", "ref", "value", "by hand", "R1", "10 kΩ", "a picture"]
    page, paper = Reader(html([SHEET])).texts, all_texts(_plain(SHEET))
    for text in said:
        assert text in page
        assert text in paper


def test_what_is_left_of_a_row_is_empty() -> None:
    page = Reader(html([SHEET]))
    assert page.tags.count("td") == 3
    grid = next(b for b in _plain(SHEET)["sections"][0]["blocks"] if b["kind"] == "grid")
    assert grid["rows"] == [["R1", "10 kΩ", ""]]


def test_a_hostile_name_stays_a_text() -> None:
    blocks = [Words(HOSTILE), Points([HOSTILE]), Grid((HOSTILE,), [(HOSTILE,)], (1,))]
    page = html([Sheet(HOSTILE, HOSTILE, [Section(HOSTILE, blocks)], HOSTILE)])
    assert "script" not in Reader(page).tags
    assert "default-src 'none'" in page


@pytest.mark.parametrize("sheets", [[SHEET], [SHEET, replace(SHEET, name="Harness")]])
def test_the_same_sheets_give_the_same_bytes(sheets: list[Sheet]) -> None:
    assert pdf(sheets) == pdf(sheets)
    assert pdf(sheets).startswith(b"%PDF")
    assert html(sheets) == html(sheets)


def test_several_sheets_have_contents_that_lead_to_them() -> None:
    page = html([SHEET, replace(SHEET, name="Harness")])
    for number in (1, 2):
        assert f'href="#sheet-{number}"' in page
        assert f'id="sheet-{number}"' in page


@pytest.mark.parametrize("sheets", [[SHEET], [SHEET, SHEET]])
def test_a_page_loads_nothing(sheets: list[Sheet]) -> None:
    page = html(sheets)
    assert "src=" not in page.replace("default-src", "").replace("style-src", "")
    assert "url(" not in page
    assert 'href="http' not in page
