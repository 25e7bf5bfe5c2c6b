"""The report on paper: everything of the page, laid out once, the same bytes for the same proof."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest
from pages.fake_proof import HOSTILE, fake_proof, proof_with

from railwright.pages import paper, printed, wording
from railwright.pages.figures import MOST_FIGURES

TEMPLATE = Path(printed.__file__).with_name("report.typ")


def texts(data: object) -> list[str]:
    """All texts of some content, figures left out."""
    if isinstance(data, str):
        return [] if data.startswith("<?xml") else [data]
    if isinstance(data, dict):
        return [text for each in data.values() for text in texts(each)]
    return [text for each in data for text in texts(each)] if isinstance(data, list) else []


@pytest.fixture(scope="module")
def content() -> dict[str, object]:
    return printed._content(fake_proof())


def test_it_is_a_pdf_of_several_pages_whatever_names_there_are(tmp_path: Path) -> None:
    printed.write_printed(fake_proof(), tmp_path / "r.pdf")
    made = (tmp_path / "r.pdf").read_bytes()
    assert made.startswith(b"%PDF-")
    assert made.rstrip().endswith(b"%%EOF")


def test_the_same_proof_gives_the_same_bytes() -> None:
    proof = replace(proof_with("holds", "falls short"), design=f"{HOSTILE} #pagebreak() *a* _b_")
    assert printed.printed(proof) == printed.printed(proof)


def test_all_that_the_page_tells_is_there(content: dict[str, object]) -> None:
    told = " ".join(texts(content))
    for finding in fake_proof().findings:
        assert finding.because in told
        assert finding.source in told
        assert all(each.part in told for each in finding.causes)
    for each in (*fake_proof().not_asked, *fake_proof().cautions, *wording.MEANINGS.values()):
        assert each in told


def test_every_finding_has_a_row_and_figures_have_their_places(content: dict[str, object]) -> None:
    ledger, findings = content["ledger"], content["findings"]
    assert isinstance(ledger, list)
    assert isinstance(findings, list)
    assert [row["number"] for row in ledger] == [1, 2, 3, 4, 5, 6]
    (found,) = (row["figures"] for row in findings if row["reserve"] == "12 %")
    assert [[each["caption"].split()[0] for each in column] for column in found] == [
        ["Steps", "Margin"],
        ["Loop", "Margins"],
    ]
    assert all(-1.0 <= row["bar"] <= 1.0 for row in ledger if row["bar"] is not None)


def test_what_holds_far_down_the_ledger_has_its_row_alone() -> None:
    sound = proof_with(*["holds"] * (MOST_FIGURES + 2))
    content = printed._content(sound)
    assert [len(content[key]) for key in ("ledger", "findings")] == [MOST_FIGURES + 2, MOST_FIGURES]
    assert [row["told"] for row in content["ledger"][-3:]] == [True, False, False]


def test_the_template_lays_out_all_of_the_content(content: dict[str, object]) -> None:
    template = TEMPLATE.read_text(encoding="utf-8")
    assert set(re.findall(r"proof\.(\w+)", template)) - {"typ"} >= set(content)


def test_every_word_goes_into_a_column() -> None:
    name = "A_NET_WITH_A_LONG_NAME_" * 4
    told = texts(paper.breakable(printed._content(replace(proof_with("holds"), design=name))))
    assert name in "".join(told).replace("\N{ZERO WIDTH SPACE}", "")
    words = re.split(r"[\s\N{ZERO WIDTH SPACE}]", " ".join(told))
    assert max(map(len, words)) <= paper.LONGEST
