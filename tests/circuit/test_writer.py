"""Edits change what they say and leave every other byte as it was."""

from __future__ import annotations

import os
import re
import stat
import tomllib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from railwright.circuit.writer import (
    EditError,
    NewTable,
    add_control,
    add_part,
    remove_part,
    save,
    set_heading,
    set_pin,
    set_table,
    set_terminals,
    set_value,
)
from tests.circuit.samples import LAMP

REFS = [part["ref"] for part in tomllib.loads(LAMP)["part"]]
NETS = st.text(st.characters(codec="utf-8"), min_size=1, max_size=6)
ENDS = pytest.mark.parametrize("ends", ["\n", "\r\n"])


def part(text: str, ref: str) -> dict[str, object]:
    """A part's table as tomllib reads it."""
    found = tomllib.loads(text.removeprefix("\ufeff"))["part"]
    (only,) = [table for table in found if table["ref"] == ref]
    return dict(only)


def changed_lines(before: str, after: str) -> tuple[list[str], list[str]]:
    """The lines that went and came between the first and the last difference."""
    old, new = (re.findall(r"[^\n]*\n|[^\n]+", text) for text in (before, after))
    while old and new and old[0] == new[0]:
        del old[0], new[0]
    while old and new and old[-1] == new[-1]:
        del old[-1], new[-1]
    return old, new


@ENDS
@pytest.mark.parametrize("mark", ["", "\ufeff"])
def test_a_value_and_nothing_else(ends: str, mark: str) -> None:
    before = mark + LAMP.replace("\n", ends)
    after = set_value(before, "R1", "resistance", "270 Ω")
    assert changed_lines(before, after) == (
        [f'resistance = "240 Ω"{ends}'],
        [f'resistance = "270 Ω"{ends}'],
    )


def test_the_comment_behind_an_edited_value_stays() -> None:
    after = set_value(LAMP, "C1", "ref", "C7")
    assert 'ref = "C7"                                     # beside the regulator\n' in after


@ENDS
def test_a_value_with_a_tolerance_keeps_it(ends: str) -> None:
    before = LAMP.replace("\n", ends)
    after = set_value(before, "R2", "resistance", "1k2")
    wanted = f'resistance = {{ typical = "1k2", tolerance = "1 %", drift = "100 ppm/K" }}{ends}'
    assert changed_lines(before, after)[1] == [wanted]


def test_a_value_given_by_limits_is_refused() -> None:
    with pytest.raises(EditError, match="dropout of U1 is given by limits"):
        set_value(LAMP, "U1", "dropout", "1.2 V")


@ENDS
def test_a_spread_takes_the_place_of_a_value(ends: str) -> None:
    before = LAMP.replace("\n", ends)
    after = set_table(before, "R2", "resistance", {"min": "990 Ω", "max": "1 kΩ"})
    wanted = f'resistance = {{ min = "990 Ω", max = "1 kΩ" }}{ends}'
    assert changed_lines(before, after)[1] == [wanted]


def test_a_value_under_a_header_is_refused() -> None:
    text = '[[part]]\nref = "R1"\n[part.resistance]\ntypical = "1k"\n'
    with pytest.raises(EditError, match="resistance of R1 stands under a header"):
        set_table(text, "R1", "resistance", {"min": "1k", "max": "2k"})


@ENDS
@pytest.mark.parametrize("mark", ["", "\ufeff"])
def test_a_heading_stands_above_all(ends: str, mark: str) -> None:
    before = LAMP.replace("\n", ends)
    assert set_heading(mark + before, ["one", "two"]) == (
        f"{mark}# one{ends}# two{ends}{ends}{before}"
    )


@ENDS
@pytest.mark.parametrize("ref", REFS)
def test_a_new_key_stands_behind_the_part_s_own(ref: str, ends: str) -> None:
    before = LAMP.replace("\n", ends)
    after = set_value(before, ref, "use", 'a "new" part')
    assert changed_lines(before, after) == ([], [f'use = "a \\"new\\" part"{ends}'])
    assert part(after, ref) == {**part(before, ref), "use": 'a "new" part'}


def test_a_new_key_stands_before_the_tables_of_a_part() -> None:
    text = '[[part]]\nref = "R1"   # first\n\n# its tables\n[part.pins]\none = "A"\n'
    after = set_value(text, "R1", "resistance", "1k")
    assert changed_lines(text, after) == ([], ['resistance = "1k"\n'])
    assert part(after, "R1") == {"ref": "R1", "resistance": "1k", "pins": {"one": "A"}}


def test_a_text_without_a_last_line_end() -> None:
    assert set_value('[[part]]\nref = "R1"', "R1", "resistance", "1k") == (
        '[[part]]\nref = "R1"\nresistance = "1k"\n'
    )


@pytest.mark.parametrize(
    ("pins", "after"),
    [
        ('pins = { one = "A" }', 'pins = { one = "A", two = "B" }'),
        ("pins = {}", 'pins = { two = "B" }'),
        ('pins = {one="A"} # x', 'pins = {one="A", two = "B" } # x'),
        ('pins.one = "A"', 'pins.one = "A"\npins.two = "B"'),
        ('pins . "one" = "A"', 'pins . "one" = "A"\npins.two = "B"'),
        ('block = "x"', 'block = "x"\npins = { two = "B" }'),
        ('[part.pins]\none = "A"', '[part.pins]\none = "A"\ntwo = "B"'),
        ("[part.pins]", '[part.pins]\ntwo = "B"'),
    ],
)
def test_a_pin_that_was_on_no_net(pins: str, after: str) -> None:
    frame = '[[part]]\nref = "R0"\n[[part]]\nref = "R1"\n{}\n\n# end\n[enclosure]\nx = 1\n'
    assert set_pin(frame.format(pins), "R1", "two", "B") == frame.format(after)


@given(st.sampled_from(REFS), NETS)
def test_any_net_on_any_pin(ref: str, net: str) -> None:
    pins = part(LAMP, ref)["pins"]
    assert isinstance(pins, dict)
    for pin in pins:
        after = set_pin(LAMP, ref, pin, net)
        assert part(after, ref)["pins"] == {**pins, pin: net}
        old, new = changed_lines(LAMP, after)
        assert len(old) == len(new) <= 1


NEW: NewTable = {
    "ref": "C9",
    "kind": "capacitor",
    "pins": {"plus": "OUT", "minus": "0V"},
    "why": 'for "it"',
}
NEW_LINES = [
    "\n",
    "[[part]]\n",
    'ref = "C9"\n',
    'kind = "capacitor"\n',
    'pins = { plus = "OUT", minus = "0V" }\n',
    'why = "for \\"it\\""\n',
]


@ENDS
def test_a_new_part_stands_behind_the_last(ends: str) -> None:
    before = LAMP.replace("\n", ends)
    after = add_part(before, NEW)
    assert changed_lines(before, after)[0] == []
    assert after == before.replace(
        f'air = "AMBIENT" }}{ends}',
        f'air = "AMBIENT" }}{ends}' + "".join(NEW_LINES).replace("\n", ends),
    )


def test_a_new_part_in_a_file_without_parts() -> None:
    assert add_part('title = "a" # x\n# end\n', NEW) == (
        'title = "a" # x\n' + "".join(NEW_LINES) + "# end\n"
    )


def test_a_heading_stands_above_a_new_part() -> None:
    after = add_part('title = "a"\n', NEW, heading="Input")
    assert after == 'title = "a"\n\n# Input\n' + "".join(NEW_LINES)


def test_a_control_stands_behind_what_is_there() -> None:
    control = {"part": "RV1", "calibration": {"voltage": "5 V"}}
    after = add_control(add_control('title = "a"\n', control), {"part": "RV2"})
    assert after == (
        'title = "a"\n\n[[control]]\npart = "RV1"\ncalibration = { voltage = "5 V" }\n'
        '\n[[control]]\npart = "RV2"\n'
    )


def test_nets_are_given_to_a_table_that_has_none() -> None:
    before = '[need.input] # a brick\nkind = "dc"\n\n[[need.output]]\nname = "main" # x\n'
    after = set_terminals(before, ("need", "input"), "IN", "GND")
    after = set_terminals(after, ("need", "output", 0), "OUT", "GND")
    need = tomllib.loads(after)["need"]
    assert need["input"] == {"kind": "dc", "nets": {"plus": "IN", "minus": "GND"}}
    assert need["output"] == [{"name": "main", "nets": {"plus": "OUT", "minus": "GND"}}]
    assert "# a brick" in after


def test_a_ref_is_given_once() -> None:
    with pytest.raises(EditError, match="another part is called C1"):
        add_part(LAMP, {"ref": "C1"})


@ENDS
@given(ref=st.text("ABC", min_size=1), why=NETS)
def test_what_was_added_is_removed_without_a_trace(ends: str, ref: str, why: str) -> None:
    before = LAMP.replace("\n", ends)
    added = add_part(before, {"ref": ref, "kind": "wire", "why": why})
    assert part(added, ref) == {"ref": ref, "kind": "wire", "why": why}
    assert remove_part(added, ref) == before


@ENDS
@pytest.mark.parametrize("ref", REFS)
def test_a_part_is_removed_and_nothing_else(ref: str, ends: str) -> None:
    before = LAMP.replace("\n", ends)
    old, new = changed_lines(before, remove_part(before, ref))
    assert new == []
    assert sum(line == f"[[part]]{ends}" for line in old) == 1
    without = [table for table in tomllib.loads(before)["part"] if table["ref"] != ref]
    assert tomllib.loads(remove_part(before, ref))["part"] == without


def test_comments_above_a_removed_part_stay() -> None:
    text = '# parts\n[[part]]\nref = "R1" # gone\n[part.pins]\none = "A"\n# end\n'
    assert remove_part(text, "R1") == "# parts\n# end\n"


def test_a_first_part_is_removed() -> None:
    assert remove_part('\n[[part]]\nref = "R1"', "R1") == ""


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ('part = [{ ref = "R1" }]', "the parts stand in one array"),
        ('[[part]]\nref = "R1"\n[enclosure]\n[part.pins]\n', "other tables stand between"),
        ('[[part]]\nref = "R2"\n', 'there is no part R1. Nearest: "R2"'),
    ],
)
def test_a_part_that_cannot_be_removed(text: str, words: str) -> None:
    with pytest.raises(EditError, match=words.replace("[", r"\[")):
        remove_part(text, "R1")


def test_parts_in_one_array() -> None:
    text = 'part = [{ ref = "R1", pins = { one = "A" } }] # x\n'
    assert set_value(text, "R1", "why", "so") == (
        'part = [{ ref = "R1", pins = { one = "A" }, why = "so" }] # x\n'
    )
    with pytest.raises(EditError, match="one array"):
        add_part(text, NEW)


class TestSave:
    def test_text_to_the_letter(self, tmp_path: Path) -> None:
        save(tmp_path / "a.toml", "a = 'µ'\r\n")
        assert (tmp_path / "a.toml").read_bytes() == "a = 'µ'\r\n".encode()

    def test_mode_and_link_stay(self, tmp_path: Path) -> None:
        path, link = tmp_path / "a.toml", tmp_path / "link.toml"
        path.write_text("old")
        path.chmod(0o640)
        link.symlink_to(path)
        save(link, "new")
        assert link.is_symlink()
        assert path.read_text() == "new"
        assert stat.S_IMODE(path.stat().st_mode) == 0o640

    def test_a_failure_leaves_the_old_file_and_no_other(
        self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        def full(file: int) -> None:
            raise OSError(28, "No space left on device")

        path = tmp_path / "a.toml"
        path.write_text("old")
        monkeypatch.setattr(os, "fsync", full)
        with pytest.raises(OSError, match="No space"):
            save(path, "new")
        assert path.read_text() == "old"
        assert list(tmp_path.iterdir()) == [path]

    def test_no_folder(self, tmp_path: Path) -> None:
        with pytest.raises(FileNotFoundError):
            save(tmp_path / "none" / "a.toml", "new")
