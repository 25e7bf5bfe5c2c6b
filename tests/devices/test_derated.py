"""What a derating policy leaves of a rating."""

import pytest

from railwright.devices import kinds
from railwright.devices.derated import hottest, usable
from railwright.standards.derating import POLICIES

POLICY = POLICIES["NASA MIL-STD-975M"]
WARM = 40.0 + 273.15


def test_ratios_are_those_of_the_published_policy() -> None:
    """MIL-STD-975M (NASA), appendix A: A 3.15 transistors, A 3.1 ceramic capacitors."""
    transistor, capacitor = kinds()["bipolar-transistor"], kinds()["capacitor"]
    share = usable(POLICY, transistor, {"polarity": "npn"}, "collector_current", 1.0, WARM)
    assert share == pytest.approx(0.75)
    share = usable(POLICY, capacitor, {"dielectric": "class-2"}, "rated_voltage", 50.0, WARM)
    assert share == pytest.approx(0.6)
    assert hottest(POLICY, transistor, {}, "junction_limit", 423.15) == pytest.approx(398.15)


def test_what_a_policy_has_no_row_for_is_told() -> None:
    capacitor, regulator = kinds()["capacitor"], kinds()["fixed-regulator"]
    wet = {"dielectric": "electrolytic"}
    assert usable(POLICY, capacitor, wet, "rated_voltage", 50.0, WARM) is None
    assert usable(POLICY, regulator, {}, "supply_maximum", 35.0, WARM) is None


def test_a_resistor_in_warm_air_follows_the_standard_whatever_the_policy_says() -> None:
    """IEC 60115-1: half of the rating at 112.5 °C, between 70 °C and 155 °C."""
    share = usable(
        POLICIES["none"], kinds()["resistor"], {}, "rated_power", 0.25, [WARM, 385.65, 428.15]
    )
    assert share == pytest.approx([1.0, 0.5, 0.0])


def test_the_share_of_a_fuse_goes_by_its_rating() -> None:
    """MIL-STD-975M (NASA), A 3.9: half of 2 A, four tenths of 0.5 A; at 40 °C 0.075 less."""
    fuse = kinds()["fuse"]
    for rated, share in ((2.0, 0.5), (0.5, 0.4)):
        found = usable(POLICY, fuse, {}, "rated_current", rated, WARM)
        assert found == pytest.approx(share - 0.005 * 15.0)
