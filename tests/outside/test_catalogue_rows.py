"""Rows of the catalogue against the tables that they were taken from."""

from __future__ import annotations

import pytest
from published import Row, published

from railwright.catalogue.loader import load


@pytest.mark.parametrize("row", published("catalogue"), ids=str)
def test_row_of_the_catalogue(row: Row) -> None:
    def stated(part: str, value: str, limit: str) -> float:
        return float(getattr(load()[part].values[value].spread, limit))

    assert stated(**row.inputs) == row.expected_within_its_tolerance
