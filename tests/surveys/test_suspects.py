"""What is suspected of small circuits, by family."""

from __future__ import annotations

import pytest
from surveys.supplies import part, resistor, supply

from railwright.circuit.design import read_text
from railwright.surveys.stages import Bench
from railwright.surveys.suspects import Suspect, pairs_of, suspects_of

TRANSISTOR = "collector = IN, base = OUT, emitter = GND"
PARTS = (
    resistor("R1", "IN", "OUT", 1e3, "1 %")
    + resistor("R2", "OUT", "GND", 2e3, "1 %")
    + part("D1", "diode", "anode = GND, cathode = OUT", 'use = "1N4002"')
    + part(
        "Q1", "bipolar-transistor", "collector = IN, base = OUT, emitter = GND", 'use = "2N3904"'
    )
)


@pytest.fixture(scope="module")
def suspects() -> dict[str, Suspect]:
    design = read_text(supply(PARTS), "small.toml")
    bench = Bench(design, [p.ref for p in design.circuit.parts], [])
    found = suspects_of(bench.circuit, bench.model.topology, bench.spread)
    return {suspect.words: suspect for suspect in found.several}


def test_every_way_in_which_a_part_may_be_wrong_is_there(suspects: dict[str, Suspect]) -> None:
    assert suspects.keys() >= {
        "nothing wrong",
        "R1 open",
        "R1 is not 1 kΩ",
        "R1 and R2 exchanged",
        "D1 short",
        "D1 the wrong way round",
        "Q1 base not joined",
    }
    assert sum(words.startswith("Q1 pins in the order") for words in suspects) == 5  # 3! - 1


def test_a_reversed_diode_has_its_ends_exchanged(suspects: dict[str, Suspect]) -> None:
    (variant,) = suspects["D1 the wrong way round"].variants
    assert variant.moves == {("D1", "anode"): "OUT", ("D1", "cathode"): "GND"}


def test_weights_of_variants_add_up(suspects: dict[str, Suspect]) -> None:
    for suspect in suspects.values():
        parts = sum(v.weight + v.onwards for v in suspect.variants)
        assert parts == pytest.approx(suspect.weight)


def test_one_value_is_one_suspect_whatever_made_it_wrong(suspects: dict[str, Suspect]) -> None:
    variants = suspects["R1 is not 1 kΩ"].variants
    factors = [v.changes[0].factor for v in variants]
    assert factors == sorted(factors)
    named = {v.words for v in variants if v.weight}
    assert {"100 Ω", "10 kΩ", "1.2 kΩ"} <= named  # decades, and the next of E12 (IEC 60063)
    assert sum(v.onwards for v in variants) > 0.0  # and anything between


def test_a_pair_is_as_likely_as_both_by_chance(suspects: dict[str, Suspect]) -> None:
    one, other = suspects["R1 open"], suspects["R2 open"]
    (pair,) = pairs_of([one, other])
    assert pair.weight == pytest.approx(one.weight * other.weight)
    assert pair.refs == ("R1", "R2")
    assert not list(pairs_of([one, suspects["R1 is not 1 kΩ"]]))  # one part fails in one way
