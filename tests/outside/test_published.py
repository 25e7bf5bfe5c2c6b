"""The rows of outside numbers themselves: each can fail a test, names its source and is used."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from published import UnfitRow, every_row, published, row_of

TESTS = Path(__file__).parent.parent
FIT: dict[str, Any] = {
    "id": "a row",
    "family": "a family",
    "inputs": {"x": 1.0},
    "expected": 5.0,
    "tolerance": {"absolute": 0.5},
    "unit": "V",
    "source": "a handbook, table 3",
}


def test_a_fit_row() -> None:
    row = row_of(FIT)
    assert row.expected_within_its_tolerance == 5.4
    assert row.expected_within_its_tolerance != 5.6
    assert row_of(FIT | {"tolerance": {"relative": 0.01}}).tolerance == pytest.approx(0.05)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"tolerance": {"absolute": 1.01}}, "at most a 5th of the value"),
        ({"tolerance": {"relative": 0.21}}, "at most a 5th of the value"),
        ({"tolerance": {"absolute": 0.0}}, "more than nil"),
        ({"expected": 0.0}, "at most a 5th of the value"),
        ({"tolerance": {"roughly": 0.1}}, "a relative or an absolute tolerance"),
        ({"tolerance": {"relative": 0.1, "absolute": 3.0}}, "a relative or an absolute"),
        ({"tolerance": "exact"}, "a relative or an absolute tolerance"),
        ({"source": ""}, "a source that can be found"),
        ({"source": "unknown"}, "a source that can be found"),
        ({"remark": "x"}, "wanted are the keys"),
    ],
)
def test_unfit_rows_are_refused(change: dict[str, Any], words: str) -> None:
    with pytest.raises(UnfitRow, match=words):
        row_of(FIT | change)


@pytest.mark.parametrize("key", sorted(FIT))
def test_a_row_without_a_key_is_refused(key: str) -> None:
    with pytest.raises(UnfitRow, match="wanted are the keys"):
        row_of({k: v for k, v in FIT.items() if k != key})


def test_a_name_that_occurs_twice_is_refused(tmp_path: Path) -> None:
    file = tmp_path / "rows.yaml"
    file.write_text(f"[{FIT!r}, {FIT!r}]".replace("'", '"'), encoding="utf-8")
    with pytest.raises(UnfitRow, match="more than one row is called a row"):
        every_row(file)


def test_a_family_without_rows_is_refused() -> None:
    with pytest.raises(UnfitRow, match="no row is of the family"):
        published("wishful thinking")


def test_every_family_is_put_to_the_test() -> None:
    families = {row.family for row in every_row()}
    texts = "".join(file.read_text(encoding="utf-8") for file in TESTS.rglob("test_*.py"))
    # Those of whole circuits are put to it one by one, by the names of the table there.
    circuits = (TESTS / "outside" / "test_published_circuits.py").read_text(encoding="utf-8")
    used = {f for f in families if f'published("{f}")' in texts or f'    "{f}": {{' in circuits}
    assert families - used == set()


def test_facts_of_circuits_are_many() -> None:
    assert sum(row.family != "catalogue" for row in every_row()) >= 25
