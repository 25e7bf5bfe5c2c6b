"""Failure rates against the handbook's printed examples and its constants."""

from typing import Any, get_args

import numpy as np
import pytest
from published import Row, published

from railwright.standards.mil_hdbk_217f import (
    COMMERCIAL,
    CapacitorStyle,
    DiodeStyle,
    Place,
    capacitor,
    diode,
    resistor,
    transistor,
)

ZERO_CELSIUS = 273.15
ROOM = 298.0  # K


@pytest.mark.parametrize("row", published("failure rate of a capacitor"), ids=str)
def test_printed_example_of_a_capacitor(row: Row) -> None:
    known = row.inputs
    ratio = (known["direct"] + np.sqrt(2.0) * known["effective"]) / known["rated"]
    found = capacitor(
        known["style"],
        known["microfarads"] * 1e-6,
        ratio,
        known["ambient"] + ZERO_CELSIUS,
        quality=known["quality"],
        place=known["place"],
    )
    assert found == row.expected_within_its_tolerance


@pytest.mark.parametrize("row", published("failure rate of a dual transistor"), ids=str)
def test_printed_example_of_a_dual_transistor(row: Row) -> None:
    known = row.inputs
    halves = [
        transistor(
            known["power"],
            ratio,
            junction + ZERO_CELSIUS,
            quality=known["quality"],
            place=known["place"],
        )
        for ratio, junction in zip(known["ratios"], known["junctions"], strict=True)
    ]
    assert sum(halves) == row.expected_within_its_tolerance


@pytest.mark.parametrize("row", published("failure rate of a diode"), ids=str)
def test_diodes(row: Row) -> None:
    found = diode(**row.inputs, junction=ROOM, quality=1.0)
    assert found == row.expected_within_its_tolerance


@pytest.mark.parametrize("row", published("failure rate of a resistor"), ids=str)
def test_resistors(row: Row) -> None:
    known = row.inputs
    found = resistor(known["rated"], known["ratio"], ROOM, known["style"], place=known["place"])
    assert found == row.expected_within_its_tolerance


@pytest.mark.parametrize("row", published("failure rate of a capacitor at room"), ids=str)
def test_capacitors(row: Row) -> None:
    found = capacitor(**row.inputs, capacitance=1e-6, ambient=ROOM)
    assert found == row.expected_within_its_tolerance


@pytest.mark.parametrize(("kelvins", "factor"), [(0.0, 1.0), (60.0, 1.6856), (100.0, 2.1875)])
def test_warmth_by_the_law_of_arrhenius(kelvins: float, factor: float) -> None:
    """exp(-(0.08 eV / k) (1/T - 1/298 K)), by hand."""
    warm, cool = resistor(1.0, 0.2, ROOM + kelvins), resistor(1.0, 0.2, ROOM)
    assert warm / cool == pytest.approx(factor, rel=1e-3)


def test_a_stiffly_fed_tantalum_capacitor_fails_five_times_as_often() -> None:
    """3.3 below 0.1 Ω/V, 0.66 above 0.8 Ω/V (section 10.1)."""
    stiff, soft = (
        capacitor("tantalum", 1e-5, 0.5, 313.15, ohms_per_volt=ohms) for ohms in (0.0, 1.0)
    )
    assert stiff / soft == pytest.approx(5.0)
    film = {capacitor("film", 1e-5, 0.5, 313.15, ohms_per_volt=ohms) for ohms in (0.0, 1.0)}
    assert len(film) == 1


def test_stress_warmth_and_rough_places_never_help() -> None:
    styles = get_args(CapacitorStyle)
    for one, other in ((0.2, 0.4), (0.4, 0.9)):
        for style in styles:
            assert capacitor(style, 1e-6, one, 313.0) < capacitor(style, 1e-6, other, 323.0)
        for kind in get_args(DiodeStyle):
            assert diode(kind, one, 313.0) < diode(kind, other, 323.0)
        assert transistor(1.0, one, 313.0) < transistor(1.0, other, 323.0)
        assert resistor(1.0, one, 313.0) < resistor(1.0, other, 323.0)
    benign, *others = get_args(Place)
    for place in others:
        assert resistor(1.0, 0.5, 313.0, place=place) > resistor(1.0, 0.5, 313.0, place=benign)


@pytest.mark.parametrize(
    ("call", "arguments", "words"),
    [
        (resistor, {"rated_power": 1.0, "ratio": 1.1, "body": 300.0}, "a stress of 1.1: wanted"),
        (resistor, {"rated_power": 0.0, "ratio": 0.5, "body": 300.0}, "0.0 W: wanted is more"),
        (resistor, {"rated_power": 1.0, "ratio": 0.5, "body": 0.0}, "0.0 K: wanted is a temp"),
        (
            capacitor,
            {"style": "paper", "capacitance": 1e-6, "ratio": 0.5, "ambient": 300.0},
            "no row for 'paper': there are film, ceramic",
        ),
        (
            transistor,
            {"rated_power": 1.0, "ratio": 0.5, "junction": 300.0, "place": "moon"},
            "no row for 'moon': there are benign, fixed",
        ),
    ],
)
def test_wrong_questions_are_refused(call: Any, arguments: dict[str, Any], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        call(**arguments)


def test_military_quality_is_a_plain_factor() -> None:
    assert resistor(1.0, 0.5, 313.0) == pytest.approx(
        COMMERCIAL * resistor(1.0, 0.5, 313.0, quality=1.0)
    )
