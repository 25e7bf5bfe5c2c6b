"""A small supply and a desk over it."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from surveys.supplies import resistor, supply

from railwright.desk.desk import Desk

DIVIDER = resistor("R1", "IN", "OUT", 100, "1 %") + resistor("R2", "OUT", "GND", 200, "1 %")


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A folder with a small supply in it."""
    (tmp_path / "small.toml").write_text(supply(DIVIDER), encoding="utf-8")
    return tmp_path


@pytest.fixture
def desk(folder: Path) -> Iterator[Desk]:
    found = Desk(folder, Path("small.toml"))
    yield found
    found.close()
