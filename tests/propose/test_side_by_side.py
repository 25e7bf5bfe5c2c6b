"""A proposal on a terminal and from the command line: what is printed, written, and the status."""

from __future__ import annotations

import io
import json
import re
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner, Result
from pages.fake_proof import proof_with
from rich.console import Console

from railwright import cli
from railwright.circuit.design import read_text
from railwright.propose.as_json import as_json
from railwright.propose.candidates import Candidate, HasCircuit, Proposal, Withdrawn
from railwright.propose.figures import Figures
from railwright.propose.power import Power, PowerMap
from railwright.propose.side_by_side import SideBySide
from railwright.prove.proof import Verdict
from railwright.surveys.depth import DEFAULT, QUICK, Depth
from tests.architectures.needs import PLAIN
from tests.propose.proposals import finding

ROOT = Path(__file__).resolve().parents[2]
TEXT = f"{PLAIN}\n# as \x1b[31m drafted\n"


def candidate(architecture: str, verdict: Verdict, depth: Depth = DEFAULT) -> Candidate:
    """A candidate with figures from nowhere."""
    figures = Figures(
        hottest=None,
        sinks=("5 K/W",),
        at_nominal=Power(3.6, 5.4),
        at_worst=Power(3.6, 6.0),
        over_range=PowerMap({"load main": np.array([0.1, 1.0])}, np.ones(2), np.array([4.0, 1.25])),
        ripple=None,
        noise=None,
        least=finding("heat.junction", "holds", 0.21),
        parts=9,
        price="3 to 10 €",
        assembly=("leads on the surface", 2),
    )
    design = read_text(PLAIN, "need")
    proof = proof_with("holds", verdict)
    return Candidate(architecture, "quiet", TEXT, design, proof, depth, figures)


def proposal(*verdicts: Verdict) -> Proposal:
    names = ("fixed linear", "adjustable linear", "low-dropout linear")
    found = [candidate(name, verdict) for name, verdict in zip(names, verdicts, strict=False)]
    return Proposal("A need", tuple(found), (Withdrawn("step-up", "12 V are enough", False),))


def printed(proposal: Proposal, width: int = 100) -> str:
    console = Console(file=io.StringIO(), width=width, highlight=False, emoji=False)
    console.print(SideBySide(proposal))
    assert isinstance(console.file, io.StringIO)
    return console.file.getvalue()


class TestPage:
    @pytest.mark.parametrize("width", [60, 80, 160])
    def test_candidates_stand_side_by_side(self, width: int) -> None:
        page = printed(proposal("holds", "marginal"), width)
        assert all(len(line) <= width for line in page.splitlines())
        assert re.search(r"✓ holds +~ marginal", page)
        assert re.search(r"9, 3 to\s+10 €|9, 3 to 10 €", page)
        assert "step-up: 12 V are enough" in page
        assert "Recommended: fixed linear." in page

    def test_efficiency_and_loss_at_full_load(self) -> None:
        assert "67 %, 1.8 W lost" in printed(proposal("holds"), 160)

    def test_efficiency_over_the_range_and_work_by_hand(self) -> None:
        page = printed(proposal("holds"), 160)
        assert "25 % to 80 %" in page
        assert "leads on the surface (2)" in page
        assert re.search(r"ripple +not looked at", page)

    def test_what_is_open_is_listed(self) -> None:
        assert "Not proven:" in printed(proposal("not proven"))
        assert "Not proven:" not in printed(proposal("holds"))

    def test_nothing_serves(self) -> None:
        page = printed(proposal())
        assert "0 of 1 kinds of supply serve it" in page
        assert "ecommended" not in page

    def test_at_depth_quick_none_is_recommended(self) -> None:
        quick = Proposal("A need", (candidate("fixed linear", "holds", QUICK),), ())
        assert "None is recommended" in printed(quick)


def test_the_json_has_the_fields_of_its_document() -> None:
    written = as_json(proposal("holds"))
    (found,), (refused,) = written["candidates"], written["refused"]  # type: ignore[misc]
    text = (ROOT / "docs" / "json.md").read_text(encoding="utf-8")
    text = text.partition("\n# A proposal\n")[2].partition("\n# ")[0]
    named = set(re.findall(r"^\| `(\w+)`", text, re.MULTILINE))
    assert named == written.keys() | found.keys() | refused.keys()
    json.dumps(written, allow_nan=False)


def test_a_figure_that_was_not_solved_is_null() -> None:
    like = candidate("fixed linear", "holds")
    power = Power(float("nan"), float("nan"))
    odd = replace(like, figures=replace(like.figures, at_nominal=power))
    (found,) = as_json(Proposal("A need", (odd,), ()))["candidates"]  # type: ignore[misc]
    assert set(found["full_load"].values()) == {None}
    json.dumps(found, allow_nan=False)


Proposing = Callable[[Proposal], None]


@pytest.fixture
def file(tmp_path: Path) -> Path:
    path = tmp_path / "need.toml"
    path.write_text(PLAIN, encoding="utf-8")
    return path


@pytest.fixture
def proposing(monkeypatch: pytest.MonkeyPatch) -> Proposing:
    """Lets a proposal made before stand for the work."""

    def stand_in(given: Proposal) -> None:
        monkeypatch.setattr("railwright.propose.candidates.propose", lambda *_, **__: given)

    return stand_in


def run(*words: str | Path) -> Result:
    return CliRunner().invoke(cli.commands, ["propose", *map(str, words)])


class TestCommand:
    @pytest.mark.parametrize(
        ("verdicts", "status"),
        [
            (("holds", "not proven"), 0),
            (("marginal",), 0),
            (("not proven",), 3),
            ((), 1),
        ],
    )
    def test_ends_with_the_status_of_the_best(
        self, verdicts: tuple[Verdict, ...], status: int, file: Path, proposing: Proposing
    ) -> None:
        proposing(proposal(*verdicts))
        assert run(file).exit_code == status

    def test_writes_a_file_per_candidate_and_the_results(
        self, file: Path, tmp_path: Path, proposing: Proposing
    ) -> None:
        proposing(proposal("holds", "marginal"))
        folder, data = tmp_path / "out", tmp_path / "out.json"
        done = run(file, "--write", folder, "--json", data)
        assert done.exit_code == 0
        assert sorted(path.name for path in folder.iterdir()) == [
            "need-adjustable-linear.toml",
            "need-fixed-linear.toml",
        ]
        assert (folder / "need-fixed-linear.toml").read_text(encoding="utf-8") == TEXT
        assert json.loads(data.read_text(encoding="utf-8"))["recommended"] == "fixed linear"
        assert done.stderr.count("Written: ") == 3

    def test_draws_a_picture_where_there_is_something_to_draw(
        self, file: Path, tmp_path: Path, proposing: Proposing
    ) -> None:
        picture = tmp_path / "compared.svg"
        proposing(proposal())
        assert f"{picture} is not written" in run(file, "--picture", picture).stderr
        assert not picture.exists()
        proposing(proposal("holds"))
        assert f"Written: {picture}" in run(file, "--picture", picture).stderr
        assert picture.read_text(encoding="utf-8").rstrip().endswith("</svg>")

    def test_replaces_no_design_that_is_there(
        self, file: Path, tmp_path: Path, proposing: Proposing
    ) -> None:
        proposing(proposal("holds"))
        mine = tmp_path / "need-fixed-linear.toml"
        mine.write_text("mine", encoding="utf-8")
        done = run(file, "--write", tmp_path)
        assert done.exit_code == 2
        assert "is there already" in done.stderr
        assert mine.read_text(encoding="utf-8") == "mine"

    def test_refuses_what_has_a_circuit(self, file: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        def propose(*_: object, **__: object) -> Proposal:
            raise HasCircuit("a need: the file has parts already.")

        monkeypatch.setattr("railwright.propose.candidates.propose", propose)
        done = run(file)
        assert done.exit_code == 2
        assert "has parts already" in done.stderr

    def test_quiet_prints_one_line(self, file: Path, proposing: Proposing) -> None:
        proposing(proposal("holds"))
        done = run(file, "--quiet")
        assert done.stdout == (
            "A need: 1 of 2 kinds of supply serve it; recommended: fixed linear\n"
        )
        assert done.stderr == ""
