"""Captures in the layouts that oscilloscopes write, each read as the same numbers.

RFC 4180 has fields between commas, in quotes where need be; all other layouts are common practice,
no source.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from railwright.bench.capture import CaptureError
from railwright.bench.captures import read_capture

COUNT, STEP = 200, 2e-6
TIME = -1e-4 + STEP * np.arange(COUNT)
ONE = 5.0 + 0.01 * np.sin(2.0 * np.pi * 1e4 * TIME)
TWO = 0.5 * np.cos(2.0 * np.pi * 2e4 * TIME)


def rows(line: Callable[[float, float, float], str]) -> str:
    return "".join(f"{line(t, a, b)}\n" for t, a, b in zip(TIME, ONE, TWO, strict=True))


def german(value: float) -> str:
    return f"{value:.9g}".replace(".", ",")


PLAIN = "Time (s),OUT (V),SW (V)\n" + rows(lambda t, a, b: f"{t:.9e},{a:.9e},{b:.9e}")
LAYOUTS = {
    "comma": PLAIN,
    "quotes and line ends of RFC 4180": '"Time (s)","OUT (V)","SW (V)"\r\n'
    + rows(lambda t, a, b: f'"{t:.9e}","{a:.9e}","{b:.9e}"').replace("\n", "\r\n"),
    "semicolon and decimal comma": "Time;OUT;SW\n(s);(V);(V)\n"
    + rows(lambda t, a, b: ";".join(map(german, (t, a, b)))),
    "decimal comma in powers of ten": "Time (s);OUT (V);SW (V)\n"
    + rows(lambda t, a, b: f"{t:.9e};{a:.9e};{b:.9e}".replace(".", ",")),
    "tab, milliseconds, millivolts": "Time (ms)\tOUT (mV)\tSW (mV)\n"
    + rows(lambda t, a, b: f"{t * 1e3:.9g}\t{a * 1e3:.9g}\t{b * 1e3:.9g}"),
    "settings above": "Model,scope of a shed\nRecord Length,200\nSample Interval,2E-06\n\n"
    "TIME,OUT,SW\n" + rows(lambda t, a, b: f"{t:.9e},{a:.9e},{b:.9e}"),
    "blanks": "# time OUT SW\n" + rows(lambda t, a, b: f"  {t:.9e}   {a:.9e}   {b:.9e}"),
    "a delimiter at the end of each line": "Time (s),OUT (V),SW (V),\n"
    + rows(lambda t, a, b: f"{t:.9e},{a:.9e},{b:.9e},"),
    "microseconds with u": "Time (us),OUT (V),SW (V)\n"
    + rows(lambda t, a, b: f"{t * 1e6:.9g},{a:.9g},{b:.9g}"),
    "no names at all": rows(lambda t, a, b: f"{t:.9e},{a:.9e},{b:.9e}"),
}


def write(folder: Path, text: str, encoding: str = "utf-8") -> Path:
    path = folder / "capture.csv"
    path.write_bytes(text.encode(encoding))
    return path


@pytest.fixture(params=["polars", "numpy"])
def reader(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    """With the fast reader, and without it."""
    if request.param == "numpy":
        monkeypatch.setitem(sys.modules, "polars", None)


@pytest.mark.usefixtures("reader")
@pytest.mark.parametrize("layout", LAYOUTS)
def test_every_layout_has_the_same_numbers(layout: str, tmp_path: Path) -> None:
    found = read_capture(write(tmp_path, LAYOUTS[layout]))
    assert found.count == COUNT
    assert found.step == pytest.approx(STEP, rel=1e-6)
    assert found.start == pytest.approx(TIME[0], rel=1e-6)
    first, second = found.channels.values()
    np.testing.assert_allclose(first, ONE, atol=1e-7)
    np.testing.assert_allclose(second, TWO, atol=1e-7)
    if layout != "no names at all":
        assert [name.upper() for name in found.channels] == ["OUT", "SW"]


@pytest.mark.parametrize("encoding", ["utf-8-sig", "utf-16", "latin-1"])
def test_every_usual_encoding_is_read(encoding: str, tmp_path: Path) -> None:
    text = PLAIN.replace("OUT", "Ausgang ü")
    found = read_capture(write(tmp_path, text, encoding))
    assert next(iter(found.channels)) == "Ausgang ü"
    assert found.count == COUNT


def test_without_a_column_of_time_a_setting_tells_the_step(tmp_path: Path) -> None:
    text = "Sample Rate,500 kSa/s\nOUT\n" + rows(lambda t, a, b: f"{a:.9e}")
    found = read_capture(write(tmp_path, text))
    assert found.step == pytest.approx(STEP)
    np.testing.assert_allclose(found.channel(), ONE, atol=1e-7)


def test_without_any_word_of_time_a_step_is_wanted(tmp_path: Path) -> None:
    path = write(tmp_path, rows(lambda t, a, b: f"{a:.9e}"))
    with pytest.raises(CaptureError, match="nothing says how far samples are apart"):
        read_capture(path)
    assert read_capture(path, step=STEP).step == STEP


def test_a_time_with_few_digits_is_still_even(tmp_path: Path) -> None:
    text = "Time,OUT\n" + rows(lambda t, a, b: f"{t:.6f},{a:.9e}")
    found = read_capture(write(tmp_path, text))
    assert found.step == pytest.approx(STEP, rel=1e-2)


def test_uneven_time_is_refused(tmp_path: Path) -> None:
    text = "Time,OUT\n" + rows(lambda t, a, b: f"{t + 3 * STEP * (t > 0):.9e},{a:.9e}")
    with pytest.raises(CaptureError, match="not even in time"):
        read_capture(write(tmp_path, text))


def test_what_is_no_capture_is_refused(tmp_path: Path) -> None:
    with pytest.raises(CaptureError, match="no 8 lines with the same columns"):
        read_capture(write(tmp_path, "Dear builder,\nthe capture is in the other file.\n"))


@pytest.mark.usefixtures("reader")
def test_a_line_that_is_no_number_is_pointed_at(tmp_path: Path) -> None:
    body = rows(lambda t, a, b: f"{t:.9e},{a:.9e},{b:.9e}").splitlines()
    body = body * 12  # beyond what the layout is found from
    body[-3] = "overload,,"
    text = "Time (s),OUT (V),SW (V)\n" + "\n".join(body)
    with pytest.raises(CaptureError, match="not of numbers alone"):
        read_capture(write(tmp_path, text * 8 if len(text) < 65536 else text))


def test_of_several_channels_one_has_to_be_named(tmp_path: Path) -> None:
    found = read_capture(write(tmp_path, PLAIN))
    with pytest.raises(CaptureError, match="several channels: OUT, SW"):
        found.channel()
    with pytest.raises(CaptureError, match="no channel GATE"):
        found.channel("GATE")
