"""`railwright make`: which files, where, and what is left alone."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from pages.fake_proof import proof_with
from surveys.supplies import resistor, supply

from railwright import cli
from railwright.prove.proof import Proof
from railwright.surveys.operating_range import Choice

DIVIDER = resistor("R1", "IN", "OUT", 1e3) + resistor("R2", "OUT", "GND", 3e3)


def run(*words: str) -> Result:
    return CliRunner().invoke(cli.commands, words)


@pytest.fixture
def file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A small design, and a proof that was made before."""
    path = tmp_path / "divider.toml"
    path.write_text(supply(DIVIDER), encoding="utf-8")
    monkeypatch.setattr("railwright.prove.run.prove", lambda design, **_: proof_with("marginal"))
    return path


def test_writes_the_report_and_its_tables_into_a_new_folder(file: Path, tmp_path: Path) -> None:
    out = tmp_path / "documents"
    done = run("make", str(file), "--out", str(out))
    assert done.exit_code == 0, done.output
    assert "Small supply: marginal. Written: " in done.stdout
    names = {path.name for path in out.iterdir()}
    assert {"report.html", "report.pdf", "bill-of-materials.csv", "panel.dxf"} <= names
    assert [path.name for path in tmp_path.iterdir() if path.name.startswith(".")] == []


def test_a_folder_that_is_there_is_refused_before_the_work(file: Path, tmp_path: Path) -> None:
    out = tmp_path / "documents"
    out.mkdir()
    (out / "notes.txt").write_text("mine")
    done = run("make", str(file), "--out", str(out))
    assert done.exit_code == 2
    assert "is there already" in done.stderr
    assert [path.name for path in out.iterdir()] == ["notes.txt"]


def test_a_need_without_parts_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "need.toml"
    path.write_text(supply(""), encoding="utf-8")
    done = run("make", str(path), "--out", str(tmp_path / "documents"))
    assert done.exit_code == 2
    assert not (tmp_path / "documents").exists()


def test_the_status_is_that_of_the_proof(
    file: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("railwright.prove.run.prove", lambda design, **_: proof_with("falls short"))
    done = run("make", str(file), "--out", str(tmp_path / "documents"))
    assert done.exit_code == 1
    assert (tmp_path / "documents" / "report.pdf").is_file()


def test_resistors_are_drawn_as_asked(file: Path, tmp_path: Path) -> None:
    for standard in ("IEC", "ANSI"):
        out = tmp_path / standard
        done = run("make", str(file), "--out", str(out), "--symbols", standard)
        assert done.exit_code == 0, done.output
    one, other = (tmp_path / s / "schematic.svg" for s in ("IEC", "ANSI"))
    assert one.read_bytes() != other.read_bytes()


def test_the_operating_point_of_the_drawing_is_chosen(
    file: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[Choice] = []

    def prove(design: object, *, nets: Choice, **_: object) -> Proof:
        asked.append(nets)
        return proof_with("marginal")

    monkeypatch.setattr("railwright.prove.run.prove", prove)
    words = ("--setting", "5 V", "--load", "main=0.5 A", "--input", "9 V", "--ambient", "40 °C")
    done = run("make", str(file), "--out", str(tmp_path / "documents"), *words)
    assert done.exit_code == 0, done.output
    assert asked == [Choice({"main": 5.0}, {"main": 0.5}, 9.0, 313.15)]


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("--setting", "5"), "is not a voltage"),
        (("--load", "aux=1 A"), "no rail is called 'aux': there is main"),
        (("--setting", "5 V", "--setting", "6 V"), "main is chosen twice"),
        (("--ambient", "warm"), "is not a temperature"),
    ],
)
def test_an_operating_point_that_cannot_be_is_refused(
    file: Path, tmp_path: Path, words: tuple[str, ...], told: str
) -> None:
    out = tmp_path / "documents"
    done = run("make", str(file), "--out", str(out), *words)
    assert done.exit_code == 2
    assert told in done.stderr
    assert not out.exists()


def test_an_operating_point_outside_of_the_need_is_refused(tmp_path: Path) -> None:
    path, out = tmp_path / "divider.toml", tmp_path / "documents"
    path.write_text(supply(DIVIDER), encoding="utf-8")
    done = run("make", str(path), "--out", str(out), "--quiet", "--input", "20 V")
    assert done.exit_code == 2
    assert "the input is chosen as 20 V: the need has 10 V" in done.stderr
    assert not out.exists()
