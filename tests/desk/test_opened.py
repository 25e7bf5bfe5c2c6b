"""What is open: changes, undoing, saving, and a file that somebody else changes meanwhile."""

from __future__ import annotations

from pathlib import Path

import pytest

from railwright.circuit.writer import EditError, set_value
from railwright.desk.opened import ChangedOnDisk, Opened, Outside, State, within
from railwright.files.mistakes import FileError


@pytest.fixture
def opened(folder: Path) -> Opened:
    return Opened(folder, Path("small.toml"))


def put(opened: Opened, text: str, joins: str = "") -> State:
    return opened.edit(lambda old: set_value(old, "R1", "resistance", text), joins)


def resistance(state: State) -> float:
    return state.design.circuit.part("R1").values["resistance"].spread.typical


def test_a_change_is_undone_and_done_again(opened: Opened) -> None:
    first = opened.state()
    put(opened, "120 Ω")
    assert resistance(put(opened, "150 Ω")) == 150
    assert resistance(opened.undo()) == 120
    assert resistance(opened.redo()) == 150
    opened.undo()
    last = opened.undo()
    assert last.text == first.text
    assert not last.can_undo
    assert last.revision > first.revision


def test_a_new_change_ends_what_was_undone(opened: Opened) -> None:
    put(opened, "120 Ω")
    opened.undo()
    assert not put(opened, "82 Ω").can_redo


def test_what_is_typed_in_one_go_is_undone_in_one(opened: Opened) -> None:
    for text in ("110 Ω", "120 Ω", "130 Ω"):
        put(opened, text, "R1 resistance")
    assert resistance(opened.undo()) == 100


@pytest.mark.parametrize("text", ["120 V", "-3 Ω", "banana", ""])
def test_a_wrong_value_changes_nothing(opened: Opened, text: str) -> None:
    before = opened.state()
    with pytest.raises(FileError):
        put(opened, text)
    assert opened.state() == before


def test_a_part_that_is_not_there(opened: Opened) -> None:
    with pytest.raises(EditError):
        opened.edit(lambda old: set_value(old, "R99", "resistance", "1 Ω"))


def test_nothing_is_written_before_it_is_saved(opened: Opened) -> None:
    before = opened.path.read_text(encoding="utf-8")
    assert not put(opened, "120 Ω").saved
    assert opened.path.read_text(encoding="utf-8") == before
    assert opened.save().saved
    assert '"120 Ω"' in opened.path.read_text(encoding="utf-8")


def test_a_change_on_disk_is_taken_up(opened: Opened) -> None:
    text = opened.path.read_text(encoding="utf-8")
    opened.path.write_text(set_value(text, "R1", "resistance", "82 Ω"), encoding="utf-8")
    assert opened.look()
    state = opened.state()
    assert (resistance(state), state.saved, state.can_undo) == (82, True, True)
    assert not opened.look()


def test_a_change_on_disk_beside_one_here_loses_neither(opened: Opened) -> None:
    text = opened.path.read_text(encoding="utf-8")
    put(opened, "120 Ω")
    theirs = set_value(text, "R1", "resistance", "82 Ω")
    opened.path.write_text(theirs, encoding="utf-8")
    assert opened.look()
    assert opened.state().elsewhere
    with pytest.raises(ChangedOnDisk):
        opened.save()
    assert opened.path.read_text(encoding="utf-8") == theirs
    assert resistance(opened.reload()) == 82
    assert resistance(opened.undo()) == 120  # what was here can be had back


def test_saving_over_what_somebody_else_wrote_has_to_be_wanted(opened: Opened) -> None:
    put(opened, "120 Ω")
    opened.path.write_text("title = 'other'", encoding="utf-8")
    with pytest.raises(ChangedOnDisk):
        opened.save()
    assert opened.save(over=True).saved


def test_a_broken_file_on_disk_is_told_and_what_is_open_stays(opened: Opened) -> None:
    before = opened.state()
    opened.path.write_text("title = ", encoding="utf-8")
    assert opened.look()
    assert "mistake" in opened.state().broken
    assert opened.state().text == before.text


def test_a_broken_file_that_is_mended_is_taken_up(opened: Opened) -> None:
    text = opened.path.read_text(encoding="utf-8")
    opened.path.write_text("title = ", encoding="utf-8")
    opened.look()
    opened.path.write_text(set_value(text, "R1", "resistance", "82 Ω"), encoding="utf-8")
    opened.look()
    assert (resistance(opened.state()), opened.state().broken) == (82, "")


@pytest.mark.parametrize("path", ["../x.toml", "/etc/passwd", "a/../../x.toml", "nul\0.toml"])
def test_files_outside_the_folder_are_refused(folder: Path, path: str) -> None:
    with pytest.raises(Outside):
        within(folder, folder / path)


@pytest.mark.parametrize("key", ["own", "derating"])
def test_a_design_that_names_a_file_outside_is_refused(opened: Opened, key: str) -> None:
    """Its mistakes would be told, and lines of it with them."""
    (opened.folder.parent / "secret.toml").write_text("secret = ", encoding="utf-8")
    before = opened.state()
    with pytest.raises(Outside):
        opened.edit(lambda old: old.replace('derating = "none"', f'{key} = "../secret.toml"'))
    assert opened.state() == before


def test_a_policy_is_no_file(opened: Opened) -> None:
    opened.edit(lambda old: old.replace('"none"', '"NASA MIL-STD-975M"'))
    assert opened.state().can_undo


def test_a_link_that_leads_outside_is_refused(
    folder: Path, tmp_path_factory: pytest.TempPathFactory
) -> None:
    other = tmp_path_factory.mktemp("other") / "x.toml"
    other.write_text("title = 'x'", encoding="utf-8")
    (folder / "link.toml").symlink_to(other)
    with pytest.raises(Outside):
        Opened(folder, Path("link.toml"))
