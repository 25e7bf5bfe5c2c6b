"""The places of keys and values, held against what tomllib reads there."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator

import pytest
from hypothesis import HealthCheck, example, given, reject, settings

from railwright.files.locate import KeyPath, Span, line_and_column, locate
from tests.circuit.toml_texts import documents


def everything(found: object, path: KeyPath = ()) -> Iterator[tuple[KeyPath, object]]:
    """Every path of a parsed document with what is there."""
    if path:
        yield path, found
    if isinstance(found, dict):
        for key, inside in found.items():
            yield from everything(inside, (*path, key))
    if isinstance(found, list):
        for index, inside in enumerate(found):
            yield from everything(inside, (*path, index))


def names(header: str) -> KeyPath:
    """The keys of a header, or a key by itself, as tomllib reads them."""
    found: object = tomllib.loads(f"{header.strip('[]')} = 0")
    keys: list[str | int] = []
    while isinstance(found, dict):
        ((key, found),) = found.items()
        keys.append(key)
    return tuple(keys)


@settings(max_examples=400, suppress_health_check=[HealthCheck.too_slow], deadline=None)
@given(documents())
@example("a.b.c = 1\na.b.d = [ [1, 2], # x ] \n [], {x.y = 1}]\n")
@example("[[a]]\n[a.b]\nx = 1\n[[a]]\n[[a.b]]\nx=2\n[[a.b]]\n")
@example("[a.b]\nx = 1\n[a]\ny = 2\n")
@example('"" = ""\n')
def test_every_place_holds_what_tomllib_reads(text: str) -> None:
    try:
        found = tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        reject()  # lines that contradict each other
    places = locate(text)

    def at(span: Span) -> str:
        return text[span.start : span.end]

    there = dict(everything(found))
    assert places.keys() == there.keys()
    for path, value in there.items():
        place, step = places[path], path[-1]
        if place.is_header:
            keys = tuple(key for key in path if isinstance(key, str))
            assert names(at(place.value)) == keys
        elif place.key == place.value and isinstance(value, dict) and isinstance(step, str):
            assert names(at(place.key)) == (step,)  # made by a dotted key
        else:
            assert repr(tomllib.loads(f"x = {at(place.value)}")["x"]) == repr(value)
            assert isinstance(step, int) or names(at(place.key)) == (step,)


SAMPLE = '''\
title = "A # lamp"            # the title
"quoted key"."a.b" = 1
text = """
[part]
ref = "no"
"""

[need.input]  # comment
voltage = { min = "1 V", max.x = "2 V" }
\tlist = [ "a", # ]
  "b",
]

[[part]]
ref = 'R1'
[part.pins]
one = "A"
[[part]]
ref="R2"
'''


@pytest.mark.parametrize("newline", ["\n", "\r\n"])
@pytest.mark.parametrize(
    ("path", "line", "column"),
    [
        (("title",), 1, 9),
        (("quoted key",), 2, 1),
        (("quoted key", "a.b"), 2, 22),
        (("text",), 3, 8),
        (("need",), 8, 2),
        (("need", "input"), 8, 1),
        (("need", "input", "voltage", "min"), 9, 19),
        (("need", "input", "voltage", "max", "x"), 9, 34),
        (("need", "input", "list", 0), 10, 11),
        (("need", "input", "list", 1), 11, 3),
        (("part",), 14, 1),
        (("part", 0, "ref"), 15, 7),
        (("part", 0, "pins", "one"), 17, 7),
        (("part", 1), 18, 1),
        (("part", 1, "ref"), 19, 5),
    ],
)
def test_lines_and_columns(path: KeyPath, line: int, column: int, newline: str) -> None:
    text = SAMPLE.replace("\n", newline)
    assert line_and_column(text, locate(text)[path].value.start) == (line, column)


def test_a_byte_order_mark_is_passed_over() -> None:
    assert locate("\ufeffa = 1")["a",].value == Span(5, 6)
