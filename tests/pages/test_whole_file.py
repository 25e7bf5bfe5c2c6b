"""Files are written whole or not at all."""

import os
from pathlib import Path

import pytest

from railwright.pages.whole_file import write_folder, write_whole


def test_replaces_what_was_there(tmp_path: Path) -> None:
    path = tmp_path / "a.json"
    path.write_text("a longer text than the new one")
    write_whole(path, "47 Ω")
    assert path.read_bytes() == "47 Ω".encode()
    assert list(tmp_path.iterdir()) == [path]


def test_leaves_the_old_where_the_new_cannot_be_finished(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "a.json"
    path.write_text("old")

    def full(descriptor: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(OSError, match="No space"):
        write_whole(path, "new")
    assert path.read_text() == "old"
    assert list(tmp_path.iterdir()) == [path]


def test_a_link_stays_a_link(tmp_path: Path) -> None:
    (tmp_path / "real").write_text("old")
    (tmp_path / "link").symlink_to("real")
    write_whole(tmp_path / "link", "new")
    assert (tmp_path / "link").is_symlink()
    assert (tmp_path / "real").read_text() == "new"


def test_a_device_is_written_to_and_not_replaced() -> None:
    write_whole(Path(os.devnull), "text")
    assert not Path(os.devnull).is_file()


def test_a_folder_is_there_with_all_its_files_or_not_at_all(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    write_folder(tmp_path / "one", {"a.csv": b"1", "b.csv": b"2"})
    assert {p.name: p.read_bytes() for p in (tmp_path / "one").iterdir()} == {
        "a.csv": b"1",
        "b.csv": b"2",
    }

    def full(path: Path, content: str | bytes) -> None:
        if path.name == "b.csv":
            raise OSError(28, "No space left on device")
        path.write_bytes(b"1")

    monkeypatch.setattr("railwright.pages.whole_file.write_whole", full)
    with pytest.raises(OSError, match="No space"):
        write_folder(tmp_path / "two", {"a.csv": b"1", "b.csv": b"2"})
    assert [path.name for path in tmp_path.iterdir()] == ["one"]


def test_a_folder_that_is_there_is_left_alone(tmp_path: Path) -> None:
    (tmp_path / "kept").mkdir()
    with pytest.raises(FileExistsError):
        write_folder(tmp_path / "kept", {"a.csv": b"1"})
    assert not any((tmp_path / "kept").iterdir())
