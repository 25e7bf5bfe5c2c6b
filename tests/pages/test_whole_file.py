"""Files are written whole or not at all."""

import os
from pathlib import Path

import pytest

from railwright.pages.whole_file import write_whole


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
