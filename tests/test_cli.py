"""The command line: what is printed where, what is written, and with which status it ends."""

import json
import os
import re
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from pages.fake_proof import fake_proof, proof_with

from railwright import cli
from railwright.catalogue.loader import load
from railwright.circuit.design import Design, read_text
from railwright.prove.proof import Proof, Verdict

ROOT = Path(__file__).resolve().parents[1]
NEED = """\
title = "Night lamp"

[need.input]
kind = "dc"
voltage = { min = "11 V", nominal = "12 V", max = "13 V" }
resistance = "100 mΩ"

[[need.output]]
name = "lamp"
reference = "common with input"
voltage = { min = "5 V", max = "5 V" }
current = { min = "0 A", max = "0.5 A" }

[need.surroundings]
ambient = { min = "0 °C", max = "40 °C" }
"""
WRONG = NEED.replace('"100 mΩ"', '"100 milli"').replace("ambient =", "ambience =")

FAKE = """\
import sys
from pages.fake_proof import fake_proof
import railwright.cli, railwright.prove.run
railwright.prove.run.prove = lambda design, **_: fake_proof()
sys.argv[1:] = ["prove", sys.argv[1]]
railwright.cli.main()
"""

Proving = Callable[..., Proof]


def run(*words: str) -> Result:
    return CliRunner().invoke(cli.commands, words)


@pytest.fixture(autouse=True)
def _no_terminal(monkeypatch: pytest.MonkeyPatch) -> None:
    for name in ("FORCE_COLOR", "TTY_COMPATIBLE", "COLUMNS"):
        monkeypatch.delenv(name, raising=False)


@pytest.fixture
def file(tmp_path: Path) -> str:
    """A design file that can be read."""
    path = tmp_path / "lamp.toml"
    path.write_text(NEED, encoding="utf-8")
    return str(path)


@pytest.fixture
def proving(monkeypatch: pytest.MonkeyPatch) -> Callable[[Proving | Proof], None]:
    """Lets a function, or a proof made before, stand for the engine."""

    def stand_in(given: Proving | Proof) -> None:
        prove = (lambda design, **_: given) if isinstance(given, Proof) else given
        monkeypatch.setattr("railwright.prove.run.prove", prove)

    return stand_in


class TestExitStatus:
    @pytest.mark.parametrize(
        ("verdict", "status"),
        [("holds", 0), ("marginal", 0), ("falls short", 1), ("not proven", 3)],
    )
    def test_is_that_of_the_verdict(
        self, verdict: Verdict, status: int, file: str, proving: Callable[[Proof], None]
    ) -> None:
        proving(proof_with("holds", verdict))
        done = run("prove", file)
        assert done.exit_code == status
        assert verdict in done.stdout

    @pytest.mark.parametrize("command", ["prove", "check-file"])
    def test_2_for_a_file_with_mistakes_which_are_all_pointed_at(
        self, command: str, tmp_path: Path
    ) -> None:
        path = tmp_path / "wrong.toml"
        path.write_text(WRONG, encoding="utf-8")
        done = run(command, str(path))
        assert done.exit_code == 2
        assert done.stdout == ""
        lines = done.stderr.splitlines()
        assert lines[0].startswith(f"{path}, ")
        assert '   6 | resistance = "100 milli"' in lines
        assert any(line.lstrip(" |").startswith("^") for line in lines)
        assert "ambience" in done.stderr

    @pytest.mark.parametrize("command", ["prove", "check-file"])
    @pytest.mark.parametrize("name", ["missing.toml", "."])
    def test_2_for_what_is_no_file(self, command: str, name: str, tmp_path: Path) -> None:
        done = run(command, str(tmp_path / name))
        assert done.exit_code == 2
        assert done.stderr
        assert "Traceback" not in done.stderr

    def test_2_for_bytes_that_are_no_text(self, tmp_path: Path) -> None:
        path = tmp_path / "noise.toml"
        path.write_bytes(bytes(range(256)))
        assert run("prove", str(path)).exit_code == 2

    def test_2_for_a_need_without_a_circuit(self, file: str) -> None:
        done = run("prove", file)
        assert done.exit_code == 2
        assert "no parts" in done.stderr

    def test_4_for_an_error_of_ours_which_says_what_to_send(
        self, file: str, proving: Callable[[Proving], None]
    ) -> None:
        proving(fail)
        done = run("prove", file)
        assert done.exit_code == 4
        assert "ZeroDivisionError: lane 7" in done.stderr
        assert "send the design file" in done.stderr
        assert "Traceback" not in done.stderr

    def test_4_with_the_traceback_that_was_asked_for(
        self, file: str, proving: Callable[[Proving], None]
    ) -> None:
        proving(fail)
        done = run("prove", file, "--traceback")
        assert done.exit_code == 4
        assert "Traceback" in done.stderr
        assert "test_cli.py" in done.stderr

    def test_130_when_a_person_stops_it(
        self, file: str, tmp_path: Path, proving: Callable[[Proving], None]
    ) -> None:
        def stopped(design: Design, **_: object) -> Proof:
            raise KeyboardInterrupt

        proving(stopped)
        done = run("prove", file, "--json", str(tmp_path / "r.json"))
        assert done.exit_code == 130
        assert "Traceback" not in done.output
        assert not (tmp_path / "r.json").exists()


def fail(design: Design, **_: object) -> Proof:
    raise ZeroDivisionError("lane 7")


class TestProve:
    def test_hands_design_and_seed_on(self, file: str, proving: Callable[[Proving], None]) -> None:
        given: list[object] = []

        def prove(design: Design, *, seed: int, **_: object) -> Proof:
            given.extend((design.title, seed))
            return fake_proof()

        proving(prove)
        run("prove", file, "--seed", "7")
        assert given == ["Night lamp", 7]

    def test_tells_progress_on_standard_error(
        self, file: str, proving: Callable[[Proving], None]
    ) -> None:
        def prove(design: Design, *, progress: Callable[[str, float], None], **_: object) -> Proof:
            progress("as set", 0.5)
            return fake_proof()

        proving(prove)
        done = run("prove", file)
        assert "as set ..." in done.stderr
        assert "as set ..." not in done.stdout

    def test_quiet_is_one_line_that_names_what_is_open(
        self, file: str, proving: Callable[[Proof], None]
    ) -> None:
        proving(fake_proof())
        done = run("prove", file, "--quiet")
        assert done.stderr == ""
        assert len(done.stdout.splitlines()) == 1
        for part in ("Radio bench rail", "falls short", "1 × not proven", "3 not asked"):
            assert part in done.stdout

    def test_writes_json_and_report(
        self, file: str, tmp_path: Path, proving: Callable[[Proof], None]
    ) -> None:
        proving(fake_proof())
        data, page = tmp_path / "r.json", tmp_path / "r.html"
        done = run("prove", file, "--json", str(data), "--report", str(page))
        assert done.exit_code == 1
        assert json.loads(data.read_text(encoding="utf-8"))["verdict"] == "falls short"
        assert page.read_text(encoding="utf-8").startswith("<!DOCTYPE html>")
        assert str(data) in done.stderr.replace("\n", "")

    def test_a_report_is_printed_where_its_name_says_so(
        self, file: str, tmp_path: Path, proving: Callable[[Proof], None]
    ) -> None:
        proving(proof_with("holds"))
        path = tmp_path / "r.PDF"
        assert run("prove", file, "--report", str(path)).exit_code == 0
        assert path.read_bytes().startswith(b"%PDF-")


class TestCompare:
    @pytest.fixture
    def other(self, tmp_path: Path) -> str:
        """A second design: the same need, with less asked of the load."""
        path = tmp_path / "lamp-2.toml"
        path.write_text(NEED.replace("0.5 A", "0.4 A").replace("lamp", "light"), encoding="utf-8")
        return str(path)

    @pytest.fixture
    def _two(self, proving: Callable[[Proving], None]) -> None:
        """Falls short where the lamp takes half an ampere, holds with less."""

        def prove(design: Design, **_: object) -> Proof:
            needed = design.need.output[0].current.max
            return proof_with("falls short" if needed > 0.45 else "holds")

        proving(prove)

    @pytest.mark.usefixtures("_two")
    def test_shows_what_differs_and_what_it_did_and_ends_with_the_second(
        self, file: str, other: str
    ) -> None:
        done = run("prove", file, other)
        assert done.exit_code == 0
        assert "need.output.light.current.max nothing → 400 mA" in " ".join(done.stdout.split())
        assert "✗ falls short → ✓ holds" in done.stdout
        assert run("prove", other, file).exit_code == 1

    @pytest.mark.usefixtures("_two")
    def test_quiet_is_one_line(self, file: str, other: str) -> None:
        done = run("prove", file, other, "--quiet")
        assert (done.stderr, len(done.stdout.splitlines())) == ("", 1)
        assert "1 better" in done.stdout

    @pytest.mark.usefixtures("_two")
    def test_the_json_has_the_fields_of_its_document(
        self, file: str, other: str, tmp_path: Path
    ) -> None:
        path = tmp_path / "change.json"
        run("prove", file, other, "--json", str(path))
        written = json.loads(path.read_text(encoding="utf-8"))
        text = (ROOT / "docs" / "json.md").read_text(encoding="utf-8")
        named = set(re.findall(r"^\| `(\w+)`", text.partition("# A comparison\n")[2], re.MULTILINE))
        (check,), difference = written["checks"], written["around"][0]
        part = {"ref", "change", "differences"}
        assert named == written.keys() | check.keys() | difference.keys() | part
        assert (check["before"]["verdict"], check["after"]["verdict"]) == ("falls short", "holds")

    @pytest.mark.usefixtures("_two")
    def test_writes_no_report_and_no_design(self, file: str, other: str, tmp_path: Path) -> None:
        assert run("prove", file, other, "--report", str(tmp_path / "r.html")).exit_code == 2
        assert run("prove", file, other, "--json", other).exit_code == 2


class TestOutputs:
    @pytest.fixture(autouse=True)
    def _never_proved(self, proving: Callable[[Proving], None]) -> None:
        proving(fail)

    def test_a_missing_folder_is_refused_before_the_work(self, file: str, tmp_path: Path) -> None:
        done = run("prove", file, "--json", str(tmp_path / "no" / "r.json"))
        assert done.exit_code == 2
        assert "no folder" in done.stderr

    def test_a_report_of_an_unknown_kind_is_refused_before_the_work(
        self, file: str, tmp_path: Path
    ) -> None:
        done = run("prove", file, "--report", str(tmp_path / "proof.txt"))
        assert done.exit_code == 2
        assert ".html or .pdf" in done.stderr
        assert not list(tmp_path.glob("proof*"))

    @pytest.mark.parametrize("option", ["--json", "--report"])
    def test_the_design_file_is_never_written_over(self, option: str, file: str) -> None:
        done = run("prove", file, option, file)
        assert done.exit_code == 2
        assert Path(file).read_text(encoding="utf-8") == NEED

    def test_two_outputs_want_two_files(self, file: str, tmp_path: Path) -> None:
        one = str(tmp_path / "r.html")
        assert run("prove", file, "--json", one, "--report", one).exit_code == 2

    def test_a_folder_is_no_file(self, file: str, tmp_path: Path) -> None:
        folder = tmp_path / "r.html"
        folder.mkdir()
        assert run("prove", file, "--report", str(folder)).exit_code == 2


def test_what_cannot_be_written_is_said_and_the_old_stays(
    file: str, tmp_path: Path, proving: Callable[[Proof], None], monkeypatch: pytest.MonkeyPatch
) -> None:
    proving(fake_proof())
    old = tmp_path / "r.json"
    old.write_text("old")

    def full(descriptor: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    done = run("prove", file, "--json", str(old))
    assert done.exit_code == 2
    assert "No space left" in done.stderr
    assert "Radio bench rail" in done.stdout
    assert old.read_text() == "old"


class TestCheckFile:
    def test_sums_up_in_one_line(self, file: str) -> None:
        done = run("check-file", file)
        assert done.exit_code == 0
        (line,) = done.stdout.splitlines()
        assert "no mistakes" in line
        assert "Night lamp: 1 output (lamp), no circuit yet, 0 controls." in line


OWN_PART = """\
["my diode"]
like = "1N4148"
trade = "mine"
warning = "sold with its band on either side"
reverse_voltage = { max = 60, unit = "V", from = "measured by hand" }
transit_time = false
"""


class TestPart:
    @pytest.fixture
    def own(self, tmp_path: Path) -> str:
        """A file with a part of one's own."""
        path = tmp_path / "mine.toml"
        path.write_text(OWN_PART, encoding="utf-8")
        return str(path)

    def test_shows_every_value_with_its_provenance(self) -> None:
        done = run("part", "317 type 1.5 A")
        assert done.exit_code == 0
        shown = " ".join(done.stdout.split())
        entry = load()["317 type 1.5 A"]
        for name, known in [*entry.values.items(), *entry.windows.items()]:
            assert f" {name} " in shown
            assert f"from: {known.source}" in shown
        assert f"Caution: {entry.warning}" in shown
        assert "1 adjust, 2 output, 3 input, tab case" in shown
        assert "1.25 V (1.2 V to 1.3 V), at: over temperature" in shown
        assert "at least 100 nF, at: far from the filter capacitor" in shown
        assert "capacitance outside, at input" in shown

    def test_needs_no_quotes(self) -> None:
        quoted = run("part", "317 type 1.5 A")
        assert run("part", "317", "type", "1.5", "A").stdout == quoted.stdout

    def test_shows_a_part_of_one_s_own(self, own: str) -> None:
        done = run("part", "my diode", "--parts", own)
        assert done.exit_code == 0
        assert "at most 60 V" in done.stdout
        assert "from: measured by hand" in done.stdout
        assert "Caution: sold with its band on either side" in done.stdout
        assert "Not stated: transit time, what needs it is not proven" in done.stdout

    def test_writes_it_for_machines(self, own: str, tmp_path: Path) -> None:
        path = tmp_path / "part.json"
        done = run("part", "my diode", "--parts", own, "--json", str(path))
        assert done.exit_code == 0
        assert done.stderr == f"Written: {path}\n"
        written = json.loads(path.read_text(encoding="utf-8"))
        assert written["pins"] == {"anode": "1", "cathode": "band"}
        assert written["warning"] == "sold with its band on either side"
        assert written["ratings"]["reverse_voltage"]["high"] == 60.0
        assert written["ratings"]["reverse_voltage"]["from"] == "measured by hand"
        assert written["ratings"]["junction_limit"]["high"] == pytest.approx(175.0)  # in °C
        assert written["values"]["forward_voltage"]["assumed"] is True
        assert "transit_time" not in written["values"]

    def test_the_json_has_the_fields_of_its_document(self, tmp_path: Path) -> None:
        path = tmp_path / "part.json"
        run("part", "2950 type 5 V 0.1 A", "--json", str(path))
        written = json.loads(path.read_text(encoding="utf-8"))
        value, window = written["values"]["dropout"], written["windows"]["output_capacitance"]
        text = (ROOT / "docs" / "json.md").read_text(encoding="utf-8").partition("# A part\n")[2]
        text = text.partition("\n# ")[0]
        named = set(re.findall(r"^\| `(\w+)`", text, re.MULTILINE))
        assert named == written.keys() | value.keys() | window.keys()
        assert (window["min"], window["max"], window["unit"]) == (1e-6, None, "F")
        assert (window["of"], window["pins"]) == ("capacitance", ["output", "ground"])

    @pytest.mark.parametrize(
        ("wanted", "near"),
        [
            ("1n418", '"1N4148"'),
            ("regulator 317", '"317 type 1.5 A"'),
            ("npn to-92", '"BC547B"'),
            ("§§§", "docs/parts.md lists them all"),
        ],
    )
    def test_2_for_an_unknown_part_with_what_is_near(self, wanted: str, near: str) -> None:
        done = run("part", wanted)
        assert done.exit_code == 2
        assert done.stdout == ""
        assert f'there is no part "{wanted}"' in done.stderr
        assert near in done.stderr

    def test_2_for_a_file_of_parts_with_mistakes(self, own: str) -> None:
        Path(own).write_text(OWN_PART.replace('from = "measured by hand"', 'at = "25 °C"'))
        done = run("part", "my diode", "--parts", own)
        assert done.exit_code == 2
        assert f"{own}, 1 mistake\n   5 | reverse_voltage" in done.stderr
        assert "its source is missing" in done.stderr

    def test_2_for_what_cannot_be_written(self, own: str) -> None:
        done = run("part", "my diode", "--parts", own, "--json", own)
        assert done.exit_code == 2
        assert "Name another file" in done.stderr


class TestDemo:
    @pytest.mark.parametrize(
        ("words", "name"),
        [
            (("demo",), "radio-bench-rail.toml"),
            (("demo", "--first-board"), "radio-bench-rail-first-board.toml"),
        ],
    )
    def test_proves_what_comes_with_the_package(
        self,
        words: tuple[str, ...],
        name: str,
        proving: Callable[[Proof], None],
        monkeypatch: pytest.MonkeyPatch,
    ) -> None:
        opened: list[Path] = []

        def read(path: Path) -> Design:
            opened.append(path)
            return read_text(NEED, "need")

        monkeypatch.setattr("railwright.circuit.design.read", read)
        proving(fake_proof())
        assert run(*words, "--quiet").exit_code == 1
        assert opened == [ROOT / "examples" / name]
        assert opened[0].is_file()


class TestProcess:
    """What only shows in a process of its own."""

    def test_help_names_the_commands_and_loads_little(self) -> None:
        done = python("-X", "importtime", "-m", "railwright", "--help")
        assert done.returncode == 0
        assert all(word in done.stdout for word in ("prove", "check-file", "demo", "part"))
        loaded = {line.rpartition("|")[2].strip() for line in done.stderr.splitlines()}
        assert "click" in loaded
        assert loaded.isdisjoint({"numpy", "rich", "matplotlib", "railwright.prove.proof"})

    def test_a_reader_who_leaves_early_changes_no_verdict(self, file: str) -> None:
        reading, writing = os.pipe()
        os.close(reading)
        done = python("-c", FAKE, file, stdout=writing)
        os.close(writing)
        assert done.returncode == 1
        assert done.stderr == ""

    def test_a_terminal_without_the_signs_gets_question_marks(self, file: str) -> None:
        done = python("-c", FAKE, file, encoding="ascii")
        assert done.returncode == 1
        assert "falls short" in done.stdout


def python(
    *words: str, stdout: int = subprocess.PIPE, encoding: str = "utf-8"
) -> subprocess.CompletedProcess[str]:
    """Run Python on this checkout."""
    paths = os.pathsep.join((str(ROOT / "src"), str(ROOT / "tests")))
    environment = {**os.environ, "PYTHONPATH": paths, "PYTHONIOENCODING": encoding}
    return subprocess.run(
        (sys.executable, *words),
        env=environment,
        stdout=stdout,
        stderr=subprocess.PIPE,
        text=True,
        check=False,
    )


def test_every_status_is_in_the_document() -> None:
    text = (ROOT / "docs" / "json.md").read_text(encoding="utf-8")
    table = text[text.index("## Exit status") :]
    assert all(f"| {status} |" in table for status in (0, 1, 2, 3, 4, 130))
