"""Public mains against what the standards say of them."""

import pytest

from railwright.standards.mains import MAINS


def test_230_volts_are_within_a_tenth_and_50_hertz_within_a_hundredth() -> None:
    """EN 50160 and IEC 60038, from memory."""
    mains = MAINS["230 V, 50 Hz"]
    assert (mains.lowest, mains.highest) == pytest.approx((0.9, 1.1))
    assert mains.frequencies == pytest.approx((0.99 * 50.0, 1.01 * 50.0))


def test_120_volts_are_within_range_b_at_the_socket() -> None:
    """ANSI C84.1, from memory: 13.3 % below, 5.8 % above."""
    mains = MAINS["120 V, 60 Hz"]
    assert (mains.lowest, mains.highest) == pytest.approx((1 - 0.133, 1.058), abs=1e-3)


@pytest.mark.parametrize("name", MAINS)
def test_names_say_what_is_nominal(name: str) -> None:
    mains = MAINS[name]
    assert name == f"{mains.voltage:g} V, {mains.frequency:g} Hz"
    assert mains.voltages[0] < mains.voltage < mains.voltages[1]
    assert mains.frequencies[0] < mains.frequency < mains.frequencies[1]
