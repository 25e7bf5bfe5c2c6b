"""A spoilt design file gives a design or a refusal that points into it, and nothing else."""

from __future__ import annotations

import contextlib
import re
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from railwright.circuit.design import read
from railwright.files.mistakes import FileError
from tests.circuit.samples import LAMP, refusal
from tests.circuit.toml_texts import VALUES, documents

LINES = LAMP.split("\n")
TEXTS = sorted(set(re.findall(r'"[^"\n]*"', LAMP)))
WORDS = sorted(set(re.findall(r"[A-Za-z_]{2,}", LAMP)))
NUMBERS = ["0", "-1", "1e400", "1e-400", "9" * 400, "nan", "inf", "1_0", "5e-324", "1e308", "²"]
UNITS = ["V", "mV", "MV", "A", "Ω", "%", "ppm/K", "°C", "K", "K/W", "s", "m", "", "kk", "F", "°"]
JUNK = st.one_of(
    st.builds(
        lambda number, unit: f'"{number} {unit}"', st.sampled_from(NUMBERS), st.sampled_from(UNITS)
    ),
    st.sampled_from(["true", "1979-05-27", "07:32:00", "[]", "{}", "[[]]", "0x" + "f" * 5000]),
    st.sampled_from([f'"{"9" * 4400} Ω"', "9" * 4400, '"\\u0000"', '""', '" "', "-0.0"]),
    st.sampled_from(TEXTS),
    st.text(st.characters(codec="utf-8"), max_size=6).map(lambda text: f'"{text}"'),
    VALUES,
)
PYTHON_WORDS = re.compile(r"NoneType|<class|Traceback|object at|\bdict\b|\btuple\b|\bstr\b")


@st.composite
def mutations(draw: st.DrawFn) -> str:
    """The sample after some changes: lines dropped, doubled, moved; values and names replaced."""
    lines = list(LINES)
    for _ in range(draw(st.integers(1, 4))):
        index = draw(st.integers(0, len(lines) - 1))
        match draw(st.integers(0, 5)):
            case 0:
                del lines[index]
            case 1:
                lines.insert(index, lines[draw(st.integers(0, len(lines) - 1))])
            case 2:
                found = re.findall(r'"[^"\n]*"', lines[index])
                if found:
                    old = draw(st.sampled_from(found))
                    lines[index] = lines[index].replace(old, draw(JUNK), 1)
            case 3:
                found = re.findall(r"[A-Za-z_]{2,}", lines[index])
                if found:
                    old = draw(st.sampled_from(found))
                    lines[index] = lines[index].replace(old, draw(st.sampled_from(WORDS)), 1)
            case 4:
                key = lines[index].split("=")[0]
                lines[index] = f"{key} = {draw(JUNK)}"
            case _:
                cut = draw(st.integers(0, len(lines[index])))
                lines[index] = lines[index][:cut] + draw(st.text(max_size=2)) + lines[index][cut:]
        lines = lines or [""]
    return "\n".join(lines)


def is_refused_in_order(text: str) -> bool:
    """Whether a text is refused; asserts that the refusal points into it and can be printed."""
    error = refusal(text)
    if error is None:
        return False
    lines = text.split("\n")
    assert error.mistakes
    for mistake in error.mistakes:
        assert 0 <= mistake.line <= len(lines)
        assert mistake.line == 0 or 1 <= mistake.column <= len(lines[mistake.line - 1]) + 1
        assert mistake.length >= 1
        assert not PYTHON_WORDS.search(mistake.text)
    assert str(error).startswith("sample.toml, ")
    return True


@settings(
    max_examples=400,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)
@given(mutations())
def test_changes_of_the_sample(text: str) -> None:
    is_refused_in_order(text)


@settings(max_examples=100, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(documents())
def test_any_toml_is_refused(text: str) -> None:
    assert is_refused_in_order(text)


@settings(max_examples=100, deadline=None)
@given(st.text(max_size=40))
def test_any_text_is_refused(text: str) -> None:
    assert is_refused_in_order(text)


@settings(
    max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(st.binary(min_size=1, max_size=3), st.integers(0, len(LAMP.encode()) - 1))
def test_any_bytes_in_the_sample(tmp_path: Path, spoilt: bytes, at: int) -> None:
    data = LAMP.encode()
    path = tmp_path / "spoilt.toml"
    path.write_bytes(data[:at] + spoilt + data[at:])
    with contextlib.suppress(FileError):
        assert read(path).path == path


@pytest.mark.parametrize("index", range(len(LINES)))
def test_every_line_dropped(index: int) -> None:
    is_refused_in_order("\n".join(LINES[:index] + LINES[index + 1 :]))


@pytest.mark.parametrize("junk", ["true", "-1", "[]", "{}", "[{}]", "1979-05-27", '"1e300 V"'])
@pytest.mark.parametrize(
    "key", sorted({line.split("=")[0].strip() for line in LINES if re.match(r"\w+ = ", line)})
)
def test_every_key_with_a_value_of_the_wrong_kind(key: str, junk: str) -> None:
    text = re.sub(rf"(?m)^{key} = .*$", f"{key} = {junk}", LAMP)
    free = key in ("item", "touch_limit", "why", "block", "title") and '"' in junk
    left_out = (key, junk) in {("within", "{}"), ("measure", "[]")}
    assert is_refused_in_order(text) != (free or left_out)
