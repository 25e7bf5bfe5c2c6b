"""The example of the page on parts of one's own is a file that can be used."""

import re
from pathlib import Path

import pytest

from railwright.catalogue.loader import load
from railwright.quantity import Spread

PAGE = Path(__file__).resolve().parents[2] / "docs" / "own-parts.md"


def test_its_example_can_be_used(tmp_path: Path) -> None:
    (text,) = re.findall(r"```toml\n(.*?)```", PAGE.read_text(encoding="utf-8"), re.DOTALL)
    file = tmp_path / "my-parts.toml"
    file.write_text(text, encoding="utf-8")
    parts = load(file)
    mine, reel = parts["zener 4V3 from the drawer"], parts["1N4148 of the second reel"]
    assert mine.values["zener_voltage"].spread == Spread.limits(4.1, 4.28, 4.5)
    assert mine.values["temperature_coefficient"].spread.typical == pytest.approx(-3e-4)
    assert mine.values["dynamic_resistance"].assumed
    assert reel.values["forward_voltage"].spread == Spread(0.68, 0.71, 0.74, "uniform")
    assert reel.values["ideality"] == load()["1N4148"].values["ideality"]
