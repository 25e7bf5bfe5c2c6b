"""The report: one file that needs nothing else, with every finding, and with names as text."""

import hashlib
import os
import re
import subprocess
import sys
from html.parser import HTMLParser
from pathlib import Path

import pytest
from pages.fake_proof import HOSTILE, fake_proof, proof_with

from railwright.pages.report import report, write_report

ROOT = Path(__file__).resolve().parents[2]
VOID = {"meta", "br", "link", "img", "hr", "input"}
AA = 4.5  # least contrast of text, WCAG 2.2, success criterion 1.4.3


class Page(HTMLParser):
    """What a browser makes of a page, as far as it matters here."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.open: list[str] = []
        self.tags: list[str] = []
        self.attributes: list[tuple[str, str]] = []
        self.texts: list[str] = []
        self.feed(text)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.attributes += [(name, value or "") for name, value in attrs]
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.handle_starttag(tag, attrs)
        if tag not in VOID:
            self.open.pop()

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        self.texts.append(data)

    def values(self, name: str) -> list[str]:
        return [value for key, value in self.attributes if key == name]


@pytest.fixture(scope="module")
def text() -> str:
    return report(fake_proof())


@pytest.fixture(scope="module")
def page(text: str) -> Page:
    return Page(text)


class TestWhole:
    def test_every_tag_is_closed(self, page: Page) -> None:
        assert page.open == []

    def test_needs_no_network_and_no_script(self, text: str, page: Page) -> None:
        assert "://" not in text
        assert not {"script", "link", "img", "iframe", "object", "embed"} & set(page.tags)
        assert "@import" not in text
        assert all(value.startswith("#") for value in page.values("href"))
        assert all(value.startswith("#") for value in page.values("xlink:href"))
        assert page.values("src") == []
        assert not [name for name, _ in page.attributes if name.startswith("on")]

    def test_ids_are_unique_and_links_lead_somewhere(self, page: Page) -> None:
        ids = page.values("id")
        assert len(set(ids)) == len(ids)
        named = page.values("href") + page.values("xlink:href")
        assert {value.removeprefix("#") for value in named} <= set(ids)

    def test_is_the_same_in_another_process(self) -> None:
        code = (
            "import hashlib; from pages.fake_proof import fake_proof;"
            "from railwright.pages.report import report;"
            "print(hashlib.sha256(report(fake_proof()).encode()).hexdigest())"
        )
        paths = os.pathsep.join((str(ROOT / "src"), str(ROOT / "tests")))
        environment = {**os.environ, "PYTHONPATH": paths, "PYTHONHASHSEED": "7"}
        command = (sys.executable, "-c", code)
        done = subprocess.run(command, env=environment, check=True, capture_output=True, text=True)
        assert done.stdout.strip() == hashlib.sha256(report(fake_proof()).encode()).hexdigest()

    def test_is_written_as_it_is(self, tmp_path: Path, text: str) -> None:
        write_report(fake_proof(), tmp_path / "r.html")
        assert (tmp_path / "r.html").read_text(encoding="utf-8") == text
        assert [path.name for path in tmp_path.iterdir()] == ["r.html"]


class TestContent:
    def test_every_name_is_text(self, text: str, page: Page) -> None:
        assert HOSTILE not in text
        assert HOSTILE in "".join(page.texts)

    def test_open_questions_come_before_the_ledger_and_that_before_findings(
        self, text: str
    ) -> None:
        parts = (
            "falls short",
            ">Not proven<",
            ">Not asked<",
            ">Cautions<",
            ">Ledger<",
            ">Findings<",
        )
        body = text[text.index("<body>") :]
        places = [body.index(part) for part in (*parts, ">Assumptions<")]
        assert places == sorted(places)

    def test_every_finding_has_its_row_and_its_article(self, page: Page) -> None:
        findings = fake_proof().ledger
        assert page.tags.count("article") == len(findings)
        assert page.tags.count("tr") == len(findings) + 1 + len(fake_proof().faults) + 1
        whole = "".join(page.texts)
        for finding in findings:
            assert finding.because in whole
            assert finding.source in whole
            assert all(cause.part in whole for cause in finding.causes)

    def test_figures_stand_where_there_is_something_to_draw(self, page: Page) -> None:
        maps = sum(finding.map is not None for finding in fake_proof().findings)
        histograms = sum(finding.samples is not None for finding in fake_proof().findings)
        curves = sum(not c.below for f in fake_proof().findings for c in f.curves)
        whole = page.tags.count("svg") - (maps + histograms + curves)
        assert whole == 1  # which question binds where
        assert len(page.values("aria-label")) == page.tags.count("svg")

    def test_samples_are_counted(self, page: Page) -> None:
        whole = "".join(page.texts).replace("\N{NO-BREAK SPACE}", " ")
        assert (
            "Margins of 2 002 samples at the worst place: 0 beyond the limit (hatched), 1 not "
            "known, 1 in which the question does not arise."
        ) in whole

    def test_an_assumption_names_what_leans_on_it(self, text: str) -> None:
        part = text[text.index(">Assumptions<") :]
        leaning = re.search(r"<dt>U2.dropout</dt><dd>(.*?)</dd>", part)
        assert leaning
        assert len(re.findall("<li>", leaning[1])) == 2

    def test_a_proof_that_found_nothing_is_a_page_all_the_same(self) -> None:
        found = Page(report(proof_with()))
        assert "? not proven" in found.texts
        assert "no question was asked" in found.texts


def test_text_is_dark_enough_on_the_paper(text: str) -> None:
    colours = dict(re.findall(r"--(\w+): (#[0-9a-f]{6});", text))
    paper = _luminance(colours["paper"])
    for name in ("ink", "faded", "short", "open", "near", "good"):
        assert (paper + 0.05) / (_luminance(colours[name]) + 0.05) >= AA, name


def _luminance(colour: str) -> float:
    """Relative luminance, WCAG 2.2."""
    parts = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return sum(weight * c for weight, c in zip((0.2126, 0.7152, 0.0722), linear, strict=True))
