"""Every kind of mistake in a design: its line, its key, its words, its caret."""

from __future__ import annotations

import pytest

from railwright.circuit.design import read_text
from railwright.files.mistakes import FileError
from tests.circuit.refusal_cases import NEEDS, PARTS, R1_VALUE, USES, VALUES, Case
from tests.circuit.samples import LAMP, NEED_ONLY, changed, mistakes, underlined


@pytest.mark.parametrize("case", [*VALUES, *NEEDS, *USES, *PARTS], ids=lambda case: case.new[:40])
def test_one_mistake(case: Case) -> None:
    text = changed(case.old, case.new)
    found = [mistake for mistake in mistakes(text) if mistake.key == case.key]
    assert [underlined(text, mistake) for mistake in found] == [case.under], mistakes(text)
    assert case.words in found[0].text
    assert found[0].line == line_of(case, text)


def line_of(case: Case, text: str) -> int:
    """Line of the text under the caret: in the change, or the header above, or else below."""
    change = LAMP.index(case.old)
    if case.under in case.new:
        offset = change + case.new.index(case.under)
    elif case.under.startswith(("[", "#")):
        offset = text.rindex(case.under, 0, change)
    else:
        offset = text.index(case.under, change - 40)
    return text.count("\n", 0, offset) + 1


def test_all_at_once_in_the_order_of_the_file() -> None:
    text = changed(R1_VALUE, 'resistance = "240 kilo"')
    text = changed('sets = "lamps.voltage"', 'sets = "lamp.voltage"', text)
    text = changed('ripple = "5 mV"', 'ripple = "5"', text)
    text = changed('measure = ["OUT", "ADJ"]', 'measure = ["OUT", "AD"]', text)
    keys = ["need.output[0].ripple", "control[0].sets", "part[3].resistance", "stage[1].measure[1]"]
    assert [mistake.key for mistake in mistakes(text)] == keys


def test_a_file_of_another_kind() -> None:
    said = [mistake.text for mistake in mistakes('name = "x"\n')]
    assert said == [
        'there is no key "name" here. Nearest: "need".',
        "need is missing. Write [need.input].",
        'title is missing. Write title = "...".',
    ]


def test_an_unknown_kind_brings_no_further_complaints() -> None:
    text = changed('kind = "capacitor"', 'kind = "capaciter"')
    assert [mistake.key for mistake in mistakes(text)] == ["part[1].kind"]


@pytest.mark.parametrize("use", ['"no such part"', "7"])
def test_a_part_that_is_not_found_brings_no_further_complaints(use: str) -> None:
    text = changed('kind = "adjustable-regulator"', f'kind = "adjustable-regulator"\nuse = {use}')
    text = changed('dropout = { min = "1.5 V", typical = "2 V", max = "2.5 V" }', "", text)
    assert [mistake.key for mistake in mistakes(text)] == ["part[2].use"]


def test_the_manner_of_printing() -> None:
    text = changed(R1_VALUE, 'resistance\t= "240 kilo"', changed('"R1"', '"R1" # \u00a0', LAMP))
    text = changed(', tolerance = "0.2 %" }', " }", text).replace("\n", "\r\n")
    with pytest.raises(FileError) as caught:
        read_text(text, "night-lamp.toml")
    assert str(caught.value).split("\n") == [
        "night-lamp.toml, 2 mistakes",
        ' 101 | resistance\t= "240 kilo"',
        "     |           \t  ^^^^^^^^^^ part R1: '240 kilo' is not a resistance."
        " Write 27k, 27 kΩ or 27000 Ω.",
        ' 112 | tracks = { group = "reel" }',
        "     |          ^^^^^^^^^^^^^^^^^^ part R2, tracks: tolerance is missing."
        ' Write tolerance = "3 %".',
    ]


def test_a_need_only_file_may_not_name_what_it_lacks() -> None:
    text = NEED_ONLY + '[[control]]\npart = "RV1"\nvalue = "position"\n'
    text += 'sets = "lamps.voltage"\nrole = "set"\n'
    (mistake,) = mistakes(text)
    assert mistake.text == 'control 1: there is no part "RV1". There are none yet.'
