"""How far a proof is: a line per stage where nobody watches, a bar where somebody does."""

import pytest

from railwright.pages.progress import listener


@pytest.fixture(autouse=True)
def _no_terminal(monkeypatch: pytest.MonkeyPatch) -> None:
    for name in ("FORCE_COLOR", "TTY_COMPATIBLE", "COLUMNS"):
        monkeypatch.delenv(name, raising=False)


def tell(quiet: bool = False) -> None:
    with listener(quiet) as told:
        told.announce("compiling the equations of 34 parts [x]")
        for share in (0.0, 0.5, 1.0):
            told.progress("as set [y]", share)


def test_each_stage_is_one_line(capsys: pytest.CaptureFixture[str]) -> None:
    tell()
    out, err = capsys.readouterr()
    assert out == ""
    assert err.splitlines()[-1] == "as set [y] ..."
    assert err.count("as set [y]") == 1


def test_a_first_run_is_announced(capsys: pytest.CaptureFixture[str]) -> None:
    tell()
    said = " ".join(capsys.readouterr().err.split())
    assert (
        "first run of this circuit: compiling the equations of 34 parts [x], kept for next time"
        in said
    )


def test_a_terminal_gets_a_bar(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("FORCE_COLOR", "1")
    tell()
    out, err = capsys.readouterr()
    assert out == ""
    assert "as set [y]" in err
    assert "━" in err


def test_a_quiet_one_says_nothing(capsys: pytest.CaptureFixture[str]) -> None:
    tell(quiet=True)
    assert capsys.readouterr() == ("", "")
