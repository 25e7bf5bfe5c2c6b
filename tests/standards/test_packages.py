"""Thermal resistances of packages against the datasheets they are from."""

from typing import Literal

import pytest
from published import Row, published

from railwright.standards.packages import PACKAGES, bare_power, package
from railwright.standards.thermal import junction_temperature


@pytest.mark.parametrize("row", published("resistance of a package"), ids=str)
def test_resistance(row: Row) -> None:
    def resistance(name: str, path: Literal["to_case", "to_air"]) -> float:
        return package(name).to_case if path == "to_case" else package(name).to_air

    assert resistance(**row.inputs) == row.expected_within_its_tolerance


@pytest.mark.parametrize("name", PACKAGES)
def test_bare_power_leads_back_to_the_junction(name: str) -> None:
    power = bare_power(name, 398.15, 313.15)
    assert junction_temperature(313.15, power, package(name).to_air) == pytest.approx(398.15)


def test_unknown_packages_are_refused() -> None:
    with pytest.raises(ValueError, match="no row for 'TO-92': there are TO-220, "):
        package("TO-92")
