"""The text of a TOML file and its tables, with refusals that point into it."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

from railwright.files.locate import BYTE_ORDER_MARK, line_and_column
from railwright.files.mistakes import FileError, Mistake

_POSITION = re.compile(r" ?\(at (?:line (\d+), column (\d+)|end of document)\)$")
_PLAINER = {
    # How tomllib's messages begin, and what is said instead.
    ("Cannot declare",): "this table stands in the file before already. Join the two.",
    ("Cannot overwrite", "Duplicate"): (
        "this key stands in its table before already. Leave one out."
    ),
    ("Cannot mutate",): "this table was closed before. Write its keys together.",
    ("Invalid value", "Expected newline or end of document after"): (
        'not a value of TOML. A value with a unit stands in quotes, as "5 V".'
    ),
    ("Unterminated", "Expected \"'", "Illegal character '\\n'", "Found invalid character '\\n'"): (
        "a text is not closed before this. Close it with the quote that it began with."
    ),
    ("Unescaped",): "a lone backslash in a text. Double it, or put the text in single quotes.",
    ("Invalid initial character",): (
        "a key is wanted here. An inline table stands in one line, without a comma at its end."
    ),
}
_DIGITS = re.compile(r"[0-9_]{4301,}")  # more than Python reads as one number


def source_text(path: Path) -> str:
    """The text of a file, to the letter. FileError where it cannot be read."""
    try:
        data = path.read_bytes()
    except FileNotFoundError:
        raise _refusal(path, "there is no such file.") from None
    except IsADirectoryError:
        raise _refusal(path, "this is a folder, a file is wanted.") from None
    except (OSError, ValueError) as error:
        raise _refusal(path, f"the file cannot be read: {error}.") from None
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError as error:
        good = data[: error.start].decode("utf-8")
        line, column = line_and_column(good, len(good))
        text = f"byte {data[error.start]:#04x} is not of UTF-8. Save the file as UTF-8."
        shown = data.decode("utf-8", "replace")
        raise FileError(str(path), [Mistake(line, column, "", text)], shown) from None


def parsed(text: str, name: str, begins: str) -> dict[str, object]:
    """The tables of a TOML text. FileError where it is not TOML, or empty.

    begins: a sentence on how such a file begins, for one who has an empty one.
    """
    try:
        tables = tomllib.loads(text.removeprefix(BYTE_ORDER_MARK))
    except RecursionError:
        deep = Mistake(0, 0, "", "arrays or tables lie too deep in one another.")
        raise FileError(name, [deep], text) from None
    except ValueError as error:
        raise FileError(name, [_not_toml(text, str(error))], text) from None
    if not tables:
        raise FileError(name, [Mistake(0, 0, "", f"the file is empty. {begins}")], text)
    return tables


def _refusal(path: Path, text: str) -> FileError:
    return FileError(str(path), [Mistake(0, 0, "", text)])


def _not_toml(text: str, found: str) -> Mistake:
    """The mistake that tomllib found, in our words."""
    digits = _DIGITS.search(text)
    if "digits" in found and digits:
        line, column = line_and_column(text, digits.start())
        return Mistake(line, column, "", "a number of so many digits cannot be read.")
    position = _POSITION.search(found)
    what = _POSITION.sub("", found)
    plainer = (said for starts, said in _PLAINER.items() if what.startswith(starts))
    said = next(plainer, f"not TOML: {what[:1].lower()}{what[1:]}.")
    if position and position[1]:
        return Mistake(int(position[1]), int(position[2]), "", said)
    line, column = line_and_column(text, len(text.rstrip()))
    return Mistake(line, column, "", said)
