"""Which part is named first where a shortfall bends: what it takes at the worst, alone."""

from __future__ import annotations

import numpy as np
import pytest
from surveys.supplies import part, resistor, supply

from railwright.circuit.design import read_text
from railwright.prove.proof import Finding
from railwright.prove.run import prove


def found(text: str, id: str) -> Finding:
    (finding,) = (f for f in prove(read_text(text, "x.toml"), only=[id]).findings if f.id == id)
    return finding


def test_a_leakage_is_the_first_cause_although_it_is_next_to_nothing_with_typical_parts() -> None:
    # 100 kΩ each way; what a large Schottky junction leaks at 70 °C grows tenfold within its
    # spread, while the resistors of 1 % move the output by 1 % at most.
    text = supply(
        resistor("R1", "IN", "OUT", 100000, "1 %")
        + resistor("R2", "OUT", "GND", 100000, "1 %")
        + part("D1", "diode", "anode = GND, cathode = OUT", 'use = "1N5822"'),
        output='accuracy = "5 %"',
        ambient=(70.0, 70.0),
    )
    accuracy = found(text, "output.accuracy")
    assert accuracy.verdict == "falls short"
    assert accuracy.causes[0].part == "D1"


def test_shares_are_those_of_a_variance_where_nothing_bends() -> None:
    # v = 10 V R2/(R1 + R2): 5 % of R1 move it as 10 % of a half do of R2, by hand.
    text = supply(
        resistor("R1", "IN", "OUT", 1000, "1 %") + resistor("R2", "OUT", "GND", 1000, "3 %"),
        output='accuracy = "0.5 %"',
    )
    accuracy = found(text, "output.accuracy")
    share = {cause.part: cause.share for cause in accuracy.causes}
    assert share["R2"] == pytest.approx(9.0 / 10.0, abs=0.01)
    assert share["R1"] == pytest.approx(1.0 / 10.0, abs=0.01)
    assert np.isclose(sum(share.values()), 1.0)
