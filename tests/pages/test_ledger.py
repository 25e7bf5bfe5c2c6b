"""The ledger on a terminal: what is open comes first, rows worst first, at any width."""

import io
from dataclasses import replace

import pytest
from pages.fake_proof import fake_proof, proof_with
from rich.console import Console

from railwright.pages import wording
from railwright.pages.ledger import Ledger, bar
from railwright.prove.proof import Proof


def printed(proof: Proof, width: int = 80, terminal: bool = False) -> str:
    console = Console(
        file=io.StringIO(), width=width, force_terminal=terminal, highlight=False, emoji=False
    )
    console.print(Ledger(proof))
    assert isinstance(console.file, io.StringIO)
    return console.file.getvalue()


def squeezed(text: str) -> str:
    return " ".join(text.split())


class TestOrder:
    def test_what_is_open_comes_before_the_rows(self) -> None:
        text = printed(fake_proof())
        places = [
            text.index(part) for part in ("Not proven:", "Not asked:", "Cautions:", "question")
        ]
        assert places == sorted(places)
        assert "main: ripple" in text[: places[-1]]
        assert "Does the output stay where it was set" in text[: places[-1]]

    def test_rows_are_worst_first(self) -> None:
        text = printed(fake_proof(), 112)
        rows = text[text.index("─") :]
        reserves = [wording.percent(finding.reserve) for finding in fake_proof().ledger[:-1]]
        places = [rows.index(f" {reserve} ") for reserve in reserves]
        assert places == sorted(places)

    def test_headings_without_content_are_left_out(self) -> None:
        text = printed(replace(proof_with("holds"), not_asked=(), cautions=()))
        assert "Not proven" not in text
        assert "Not asked" not in text
        assert "0 not asked" in text


class TestRow:
    def test_holds_verdict_reserve_value_limit_and_place(self) -> None:
        lines = printed(fake_proof(), 112).splitlines()
        (first,) = (at for at, line in enumerate(lines) if "U2: Does every series" in line)
        row = squeezed(" ".join(lines[first : first + 2]))
        for part in ("✗ falls short", "1.42 V, at least 2.5 V", "-43 % ··██│····"):
            assert part in row
        assert "12 V, 1 A, input 18 V, 40 °C" in row

    def test_what_is_not_good_says_why(self) -> None:
        text = squeezed(printed(fake_proof(), 112))
        for finding in fake_proof().findings:
            assert (finding.because in text) == (finding.verdict != "holds")
        assert "causes: U2 dropout 61 %, RS1 resistance 22 %, D1 drop 9 % of the spread" in text
        assert "likely mistake: R9 resistance: 10 kΩ instead of 1 kΩ" in text

    def test_what_leans_on_an_assumption_says_so_even_where_it_holds(self) -> None:
        proof = proof_with("holds")
        leaning = replace(proof, findings=[replace(proof.findings[0], assumed=["U9.gain"])])
        assert "assumed: U9.gain" in printed(leaning)


class TestPaper:
    @pytest.mark.parametrize("width", [60, 80, 112, 200])
    def test_stays_within_its_width(self, width: int) -> None:
        text = printed(fake_proof(), width)
        assert max(map(len, text.splitlines())) <= min(width, 112)
        assert "…" not in text  # nothing is cut

    def test_plain_text_has_no_colours_and_says_the_same(self) -> None:
        plain, coloured = printed(fake_proof()), printed(fake_proof(), terminal=True)
        assert "\x1b" not in plain
        assert "\x1b" in coloured
        assert all(word in plain for word in ("falls short", "not proven", "marginal", "holds"))

    def test_names_are_not_read_as_markup(self) -> None:
        proof = replace(fake_proof(), design="a [bold]b[/bold] :warning: \x1b[2J")
        text = printed(proof)
        assert "a [bold]b[/bold] :warning: \ufffd[2J" in text


@pytest.mark.parametrize(
    ("reserve", "drawn"),
    [
        (0.0, "····│····"),
        (-0.001, "···█│····"),
        (0.001, "····│█···"),
        (1.0, "····│████"),
        (9.0, "····│████"),
        (float("-inf"), "████│····"),
        (float("nan"), ""),
    ],
)
def test_bar_shows_the_side_of_the_limit(reserve: float, drawn: str) -> None:
    assert bar(reserve) == drawn
