"""TOML texts in every way of writing that the format has, for Hypothesis."""

from __future__ import annotations

import datetime
import json

from hypothesis import strategies as st

LETTERS = st.text(st.characters(codec="utf-8", exclude_categories=("Cc", "Cs")), max_size=8)
SPACE = st.sampled_from(["", " ", "  ", "\t"])
BARE = st.from_regex(r"[A-Za-z0-9_-]{1,6}", fullmatch=True)


def basic(text: str) -> str:
    """A basic string; JSON's escapes are TOML's, but for the solidus and lone surrogates."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


KEYS = st.one_of(
    BARE,
    LETTERS.map(basic),
    LETTERS.filter(lambda text: "'" not in text).map(lambda text: f"'{text}'"),
)

SCALARS = st.one_of(
    LETTERS.map(basic),
    st.sampled_from(['"[x] # {no}, = \\"comment\\" \\\\"', "'a\\'", "''", '""']),
    LETTERS.filter(lambda text: "'" not in text).map(lambda text: f"'{text}'"),
    st.sampled_from(
        [
            '"""\na = "1" # no\n[t]\n"""',
            '"""two "" quotes"""""',
            '"""a\\\\"""',
            '"""\\\n   gone \\""""""',
            "'''\n'x' ] } #\n\\'''''",
            "''''''",
            '""""""',
        ]
    ),
    st.integers(-(10**6), 10**6).map(str),
    st.sampled_from(["0xBEEF", "1_000.5", "6e-3", "-inf", "true", "false", "+1.5E+3"]),
    st.datetimes(min_value=datetime.datetime(1000, 1, 1)).map(
        lambda moment: moment.replace(microsecond=0).isoformat(" ")
    ),
    st.sampled_from(["1979-05-27", "07:32:00", "1979-05-27T07:32:00.5Z"]),
)

COMMENT = LETTERS.map(lambda text: f"# {text} \"]}}'=")
GAP = st.one_of(SPACE, COMMENT.map(lambda comment: f" {comment}\n"), st.just("\n\n"))


@st.composite
def arrays(draw: st.DrawFn, values: st.SearchStrategy[str]) -> str:
    elements = draw(st.lists(values, max_size=3))
    parts = [f"{draw(GAP)}{element}{draw(GAP)}" for element in elements]
    tail = draw(st.sampled_from(["", ","])) if parts else draw(GAP)
    return f"[{','.join(parts)}{tail}{draw(GAP)}]"


@st.composite
def pairs(draw: st.DrawFn, values: st.SearchStrategy[str]) -> str:
    """A key and a value; the key is dotted at times."""
    keys = draw(st.lists(KEYS, min_size=1, max_size=2))
    return f"{f'{draw(SPACE)}.{draw(SPACE)}'.join(keys)}{draw(SPACE)}={draw(SPACE)}{draw(values)}"


@st.composite
def inline_tables(draw: st.DrawFn, values: st.SearchStrategy[str]) -> str:
    inside = draw(st.lists(pairs(values), max_size=3))
    return f"{{{draw(SPACE)}{f'{draw(SPACE)},{draw(SPACE)}'.join(inside)}{draw(SPACE)}}}"


VALUES = st.recursive(
    SCALARS, lambda values: st.one_of(arrays(values), inline_tables(values)), max_leaves=6
)


@st.composite
def headers(draw: st.DrawFn) -> str:
    keys = f"{draw(SPACE)}.{draw(SPACE)}".join(
        draw(st.lists(st.sampled_from(["a", "b", '"c.d"', "'e'"]), min_size=1, max_size=3))
    )
    brackets = draw(st.sampled_from([1, 2]))
    return f"{'[' * brackets}{draw(SPACE)}{keys}{draw(SPACE)}{']' * brackets}"


@st.composite
def documents(draw: st.DrawFn) -> str:
    """A text of lines that are each right; together they may still be refused."""
    statements = st.one_of(pairs(VALUES), headers(), st.just(""), COMMENT)
    lines = [
        f"{draw(SPACE)}{statement}{draw(SPACE)}{draw(st.one_of(st.just(''), COMMENT))}"
        for statement in draw(st.lists(statements, max_size=8))
    ]
    text = "\n".join(lines) + draw(st.sampled_from(["", "\n"]))
    return text.replace("\n", "\r\n") if draw(st.booleans()) else text
