"""Published readings of supplies that did not work: the cause that was found is suspected early.

Designs are as they were meant; what was read, and what it came from, others published
(`tests/data/published_readings.yaml`).
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest
import yaml
from click.testing import CliRunner

from railwright import cli

TESTS = Path(__file__).parents[1]
FIRST = 3
"""Suspects among which the cause has to be."""
NOT_YET = {
    "resistor of a few ohms": "what pulses do at light load is not in the model, and one reading "
    "does not tell the resistor from what it stands beside",
}
"""Rows whose cause does not come early enough, and why."""


@dataclass(frozen=True)
class Row:
    """One published case."""

    id: str
    design: str
    readings: Mapping[str, float]
    """Net -> volts from ground."""
    cause: str
    """Matches the words of a suspect that names the cause."""
    found: str
    source: str
    meant: Sequence[tuple[str, str]] = field(default=())
    """Text of the design with the mistake, and what was meant."""

    @property
    def text(self) -> str:
        """The design as it was meant."""
        text = (TESTS / self.design).read_text(encoding="utf-8")
        for built, meant in self.meant:
            assert text.count(built) == 1, built
            text = text.replace(built, meant)
        return text


def rows() -> list[Any]:
    """Every row; one that is not reached yet has to leave its table when it is."""
    text = (TESTS / "data" / "published_readings.yaml").read_text(encoding="utf-8")
    several = [Row(**each) for each in yaml.safe_load(text)]
    assert {row.id for row in several} >= NOT_YET.keys()
    return [
        pytest.param(
            row,
            id=row.id,
            marks=[pytest.mark.xfail(reason=NOT_YET[row.id], strict=True)]
            if row.id in NOT_YET
            else [],
        )
        for row in several
    ]


def suspected(folder: Path, row: Row) -> list[str]:
    """Suspects as the command tells them, the likeliest first."""
    path, table = folder / "design.toml", folder / "read.csv"
    path.write_text(row.text, encoding="utf-8")
    lines = [f"voltage,{net},GND,{volts},V" for net, volts in row.readings.items()]
    table.write_text("\n".join(["quantity,red,black,value,unit", *lines]), encoding="utf-8")
    done = CliRunner().invoke(cli.commands, ["mend", str(path), "--readings", str(table)])
    assert done.exit_code == 0, done.output
    return re.findall(r"^ *\d+ % +(.*?) *$", done.stdout, re.MULTILINE)


@pytest.mark.parametrize("row", rows())
def test_the_published_cause_is_among_the_first_suspects(row: Row, tmp_path: Path) -> None:
    told = suspected(tmp_path, row)
    assert any(re.match(row.cause, words) for words in told[:FIRST]), told
