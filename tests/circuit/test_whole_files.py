"""Files that are no design at all."""

from __future__ import annotations

from pathlib import Path

import pytest

from railwright.circuit.design import read
from railwright.files.mistakes import FileError


@pytest.mark.parametrize(
    ("data", "line", "column", "words"),
    [
        (b"", 0, 0, "the file is empty"),
        (b"# only a comment\n", 0, 0, "the file is empty"),
        (b"title = 'a'\nname = 'gr\xfcn'\n", 2, 11, "byte 0xfc is not of UTF-8"),
        (b"\xff\xfea\x00", 1, 1, "Save the file as UTF-8"),
        (b"title = 'a'\nvoltage = 5 V\n", 2, 13, 'A value with a unit stands in quotes, as "5 V"'),
        (b"title = 5V\n", 1, 10, "stands in quotes"),
        (b"title =\n", 1, 8, "not a value of TOML"),
        (b"title = 'a\n", 1, 11, "a text is not closed"),
        (b'title = "a\n', 1, 11, "a text is not closed"),
        (b'title = "C:\\parts"\n', 1, 14, "a lone backslash in a text"),
        (b"a = { b = 1, }\n", 1, 14, "without a comma at its end"),
        (b"a = 1\na.b = 2\n\n", 2, 8, "before already"),
        (b"title = 'a'\ntitle = 'b'\n", 2, 12, "before already"),
        (b"[need]\n[need]\n", 2, 6, "this table stands in the file before already"),
        (b"title\n", 1, 6, "expected '=' after a key"),
        (b"[need\n", 1, 6, "expected ']'"),
        (b"parts = [1, 2", 1, 14, "unclosed array"),
        (b"a = " + b"[" * 5000, 0, 0, "too deep"),
        (b"a = " + b"[" * 5000 + b"]" * 5000, 0, 0, "too deep"),
        (b"title = 'a'\nn = " + b"9" * 5000, 2, 5, "so many digits"),
    ],
)
def test_not_toml(tmp_path: Path, data: bytes, line: int, column: int, words: str) -> None:
    path = tmp_path / "sample.toml"
    path.write_bytes(data)
    with pytest.raises(FileError) as caught:
        read(path)
    (mistake,) = caught.value.mistakes
    assert (mistake.line, mistake.column) == (line, column)
    assert words in mistake.text
    assert str(caught.value).startswith(f"{path}, 1 mistake\n")


def test_missing(tmp_path: Path) -> None:
    with pytest.raises(FileError, match="there is no such file"):
        read(tmp_path / "none.toml")


def test_folder(tmp_path: Path) -> None:
    with pytest.raises(FileError, match="this is a folder"):
        read(tmp_path)


def test_impossible_name() -> None:
    with pytest.raises(FileError, match="cannot be read"):
        read("a\0b")
