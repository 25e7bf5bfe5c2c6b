"""Coils chosen from the catalogue."""

from dataclasses import replace

import pytest

from railwright.catalogue.coils import NEEDED, coils
from railwright.catalogue.loader import load
from railwright.standards.stages import Stage, choose, judge

# The stage of a supply for 3.3 to 12 V at 1 A from a brick of 19 V, a volt and a half above it.
STAGE = Stage("step-down", (18.0, 20.0), (4.8, 13.5), 1.0, 150e3, 1.0, 0.5)


def test_limits_are_those_that_count_against_a_coil() -> None:
    found = {coil.name: coil for coil in coils(load())}["inductor 47 µH 3 A"]
    # 47 µH within 20 %, at least 3.2 A, 3 A, at most 84.5 mΩ: the rows of the catalogue.
    assert found.inductance == pytest.approx(37.6e-6)
    assert found.saturation_current == 3.2
    assert found.rated_current == 3.0
    assert found.resistance == pytest.approx(0.0845)


def test_the_least_one_that_fits_is_chosen() -> None:
    offered = coils(load())
    chosen = choose(STAGE, offered, 0.3)
    # By hand: 20 V in and 9.25 V out are at half duty, 19.5 / 4 / 150 kHz = 32.5 µV s; over 0.3 A
    # that is 108 µH, and 150 µH less a fifth is the least coil above.
    assert chosen.coil.name == "inductor 150 µH 3 A"
    assert chosen.ripple_ratio == pytest.approx(32.5e-6 / 120e-6)
    for coil in offered:
        if coil.inductance < chosen.coil.inductance:
            assert judge(STAGE, coil, 0.3).shortfalls


@pytest.mark.parametrize(
    ("amperes", "output", "share"),
    [(3.0, (4.8, 13.5), 0.3), (3.0, (3.3, 5.0), 0.4), (5.0, (5.0, 12.0), 0.3)],
)
def test_one_fits_a_supply_for_three_and_for_five_amperes(
    amperes: float, output: tuple[float, float], share: float
) -> None:
    """By hand: load and half of the ripple, V s over the least inductance, are below saturation."""
    stage = replace(STAGE, output=output, load=amperes)
    coil = choose(stage, coils(load()), share).coil
    worst = max(v * (1.0 - v / stage.input[1]) for v in (*output, min(output[1], 10.0)))
    ripple = worst / stage.frequency / coil.inductance
    assert ripple <= 1.1 * share * amperes
    assert coil.saturation_current > amperes + ripple / 2
    assert coil.rated_current > amperes


def test_none_fits_a_load_beyond_their_rating() -> None:
    with pytest.raises(ValueError, match=r"no coil fits.*\n  inductor 33 µH 3 A: .*rated 3 A rms"):
        choose(replace(STAGE, load=12.0), coils(load()), 0.4)


@pytest.mark.parametrize("name", NEEDED)
def test_a_coil_that_cannot_be_judged_is_left_out(name: str) -> None:
    entry = load()["inductor 47 µH 3 A"]
    unsaid = {key: value for key, value in entry.values.items() if key != name}
    spread_only = {**entry.values, name: replace(entry.values[name], relative=True)}
    assert len(coils({"whole": entry})) == 1
    assert coils({"unsaid": replace(entry, values=unsaid)}) == []
    assert coils({"spread": replace(entry, values=spread_only)}) == []
