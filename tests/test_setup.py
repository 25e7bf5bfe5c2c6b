"""The set-up: locks, scripts, what starting the command loads, what the wheel holds."""

import re
import subprocess
import sys
import tomllib
import zipfile
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

import bootstrap

ROOT = Path(__file__).resolve().parent.parent
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
HEAVY = {"llvmlite", "matplotlib", "scipy"}


def entries(lock: str) -> list[str]:
    """The entries of a lock, one logical line each."""
    text = bootstrap.lock_file(lock).read_text(encoding="utf-8")
    return [line for line in text.replace("\\\n", " ").splitlines() if line.strip()]


def versions(lock: str) -> dict[str, str]:
    """Package name to locked version."""
    pinned = (Requirement(entry.split(" --hash")[0]) for entry in entries(lock))
    return {canonicalize_name(one.name): str(one.specifier).removeprefix("==") for one in pinned}


def declared(lock: str) -> list[Requirement]:
    """What pyproject.toml asks for and the lock therefore has to hold."""
    wanted = [
        *PROJECT["project"]["dependencies"],
        *PROJECT["build-system"]["requires"],
        *PROJECT["dependency-groups"]["build"],
    ]
    if lock == "test":
        wanted += PROJECT["project"]["optional-dependencies"]["test"]
    return [Requirement(text) for text in wanted]


@pytest.mark.parametrize("lock", bootstrap.LOCKS)
class TestLock:
    def test_names_no_host(self, lock: str) -> None:
        text = bootstrap.lock_file(lock).read_text(encoding="utf-8")
        assert "://" not in text
        assert not re.search(r"^\s*-(?!-hash=sha256:)", text, re.MULTILINE)

    def test_every_entry_is_pinned_and_hashed(self, lock: str) -> None:
        form = re.compile(r"[\w.-]+==[\w.+!]+( ; [^#]+?)?(\s+--hash=sha256:[0-9a-f]{64})+")
        assert [entry for entry in entries(lock) if not form.fullmatch(entry)] == []

    def test_holds_what_the_project_declares(self, lock: str) -> None:
        locked = versions(lock)
        for wanted in declared(lock):
            assert wanted.specifier.contains(locked[canonicalize_name(wanted.name)]), str(wanted)


def test_locks_agree() -> None:
    assert versions("main").items() <= versions("test").items()


class TestEnvironment:
    @pytest.fixture(autouse=True)
    def _elsewhere(self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        monkeypatch.setattr(bootstrap, "STAMP", tmp_path / "stamp")
        monkeypatch.setattr(bootstrap, "PYTHON", sys.executable)

    def test_half_made_is_not_ready(self) -> None:
        assert not bootstrap.is_ready("main")

    def test_whole_is_ready(self) -> None:
        bootstrap.STAMP.write_text(bootstrap.digest("main"))
        assert bootstrap.is_ready("main")
        assert not bootstrap.is_ready("test")

    def test_the_larger_serves_the_smaller(self) -> None:
        bootstrap.STAMP.write_text(bootstrap.digest("test"))
        assert bootstrap.is_ready("main")

    def test_a_changed_lock_is_not_ready(
        self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        bootstrap.STAMP.write_text(bootstrap.digest("test"))
        changed = tmp_path / "changed.txt"
        changed.write_text("numpy==0\n")
        monkeypatch.setattr(bootstrap, "lock_file", lambda lock: changed)
        assert not bootstrap.is_ready("main")

    def test_a_lost_interpreter_is_not_ready(
        self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        bootstrap.STAMP.write_text(bootstrap.digest("main"))
        monkeypatch.setattr(bootstrap, "PYTHON", str(tmp_path / "gone"))
        assert not bootstrap.is_ready("main")


class TestDocuments:
    def test_contributing_names_only_scripts_that_exist(self) -> None:
        text = (ROOT / "CONTRIBUTING.md").read_text(encoding="utf-8")
        named = re.findall(r"scripts/\w+\.py", text)
        assert named
        assert [name for name in named if not (ROOT / name).is_file()] == []

    def test_contributing_names_every_job_and_no_other(self) -> None:
        text = (ROOT / "CONTRIBUTING.md").read_text(encoding="utf-8")
        assert set(re.findall(r"bootstrap\.py (\w+)", text)) == set(bootstrap.JOBS)

    @pytest.mark.parametrize("job", ["demo", "test"])
    def test_readme_gives_the_two_commands(self, job: str) -> None:
        lines = (ROOT / "README.md").read_text(encoding="utf-8").splitlines()
        assert f"python3 bootstrap.py {job}" in [line.strip() for line in lines]


def test_the_command_starts_without_heavy_packages() -> None:
    code = "import railwright.cli, sys; print(*{name.split('.')[0] for name in sys.modules})"
    command = (sys.executable, "-c", code)
    loaded = subprocess.run(command, check=True, capture_output=True, text=True).stdout.split()
    assert "click" in loaded
    assert HEAVY.isdisjoint(loaded)


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The wheel of this checkout, built with the locked back end, nothing fetched."""
    folder = tmp_path_factory.mktemp("wheel")
    build = (sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", str(folder))
    subprocess.run(build, cwd=ROOT, check=True, capture_output=True)
    (made,) = folder.glob("*.whl")
    return made


def test_the_wheel_holds_code_catalogue_and_examples(wheel: Path) -> None:
    source = ROOT / "src" / "railwright"
    wanted = {path.relative_to(source.parent).as_posix() for path in source.rglob("*.py")}
    wanted |= {path.relative_to(source.parent).as_posix() for path in source.rglob("*.toml")}
    examples = {f"railwright/examples/{path.name}" for path in (ROOT / "examples").glob("*.toml")}
    assert examples
    assert any(name.startswith("railwright/catalogue/") for name in wanted)
    with zipfile.ZipFile(wheel) as archive:
        assert wanted | examples <= set(archive.namelist())


def test_the_demo_runs_from_the_wheel_alone(wheel: Path, tmp_path: Path) -> None:
    """The demo has to find its design in the wheel, not only in a checkout."""
    site = tmp_path / "site"
    with zipfile.ZipFile(wheel) as archive:
        archive.extractall(site)
    code = (
        f"import sys; sys.path.insert(0, {str(site)!r}); import railwright.cli as cli;"
        f" assert cli.__file__.startswith({str(site)!r}); sys.argv[1:] = ['demo']; cli.main()"
    )
    command = (sys.executable, "-c", code)
    done = subprocess.run(command, cwd=tmp_path, capture_output=True, text=True, check=False)
    assert done.returncode in {0, 1}, done.stderr
    assert done.stdout
