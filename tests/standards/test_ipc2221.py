"""Board conductors against published values of the curve fit."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from railwright.standards.ipc2221 import MIL, Layer, conductor_current, conductor_width

OUNCE = 1.378 * MIL  # copper of one ounce per square foot


@pytest.mark.parametrize(
    ("current", "rise", "outer", "inner"),
    [
        # IPC-2221 curve fit as quoted in several public source texts, recomputed; mm.
        (1, 10, 0.300, 0.781),
        (3, 10, 1.367, 3.556),
        (3, 20, 0.898, 2.335),
        (5, 10, 2.765, 7.194),
        (10, 20, 4.724, 12.288),
    ],
)
def test_width(current: float, rise: float, outer: float, inner: float) -> None:
    assert conductor_width(current, rise, OUNCE) * 1e3 == pytest.approx(outer, rel=2e-3)
    assert conductor_width(current, rise, OUNCE, "inner") * 1e3 == pytest.approx(inner, rel=2e-3)


def test_current() -> None:
    # 10 mil of one ounce, 10 K, outer layer: printed in a public source text.
    assert conductor_current(10 * MIL, 10, OUNCE) == pytest.approx(0.8855170346618377, rel=1e-9)


layers = st.sampled_from(["outer", "inner"])


@given(st.floats(0.01, 35), st.floats(5, 100), st.floats(10e-6, 140e-6), layers)
def test_width_and_current_undo_each_other(
    current: float, rise: float, thickness: float, layer: Layer
) -> None:
    width = conductor_width(current, rise, thickness, layer)
    assert conductor_current(width, rise, thickness, layer) == pytest.approx(current, rel=1e-9)
