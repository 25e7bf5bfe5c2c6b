"""Life of the catalogue's electrolytic capacitors, and what their classes promise."""

import numpy as np
import pytest
from devices.samples import typical_values
from devices.terms import LonePart
from published import Row, published

from railwright.catalogue.life import expected_life
from railwright.catalogue.loader import load
from railwright.devices import kinds

HOUR = 3600.0
CAPACITORS = {n: e for n, e in load().items() if e.kind == "capacitor"}
ELECTROLYTIC = [n for n, e in CAPACITORS.items() if e.options["dielectric"] == "electrolytic"]
CLASS_2 = [n for n, e in CAPACITORS.items() if e.options["dielectric"] == "class-2"]


@pytest.mark.parametrize("name", ELECTROLYTIC)
def test_every_one_promises_a_ripple_current_and_a_life_with_it(name: str) -> None:
    values = CAPACITORS[name].values
    amperes, hottest = (values[row].spread.typical for row in ("rated_ripple", "rated_temperature"))
    assert expected_life(CAPACITORS[name], hottest, amperes) == pytest.approx(
        values["rated_life"].spread.typical
    )
    # What heats a can of its size by some kelvins; its esr is stated cold, hot it is less.
    assert 0.02 < amperes**2 * values["esr"].spread.typical < 1.0


@pytest.mark.parametrize("row", published("life of an electrolytic capacitor"), ids=str)
def test_ten_kelvins_less_double_it(row: Row) -> None:
    """The published rule, at the rated ripple current: 2000 h at 105 °C are 8000 h at 85 °C."""
    entry = CAPACITORS["electrolytic 47 µF 25 V low-ESR"]
    ripple = entry.values["rated_ripple"].spread.typical
    kelvin = 273.15 + float(row.inputs["core"])
    assert expected_life(entry, kelvin, ripple) / HOUR == row.expected_within_its_tolerance


def test_less_ripple_is_more_life() -> None:
    """Without ripple the core is 5 K cooler: by the rule, 2 to the half."""
    entry = CAPACITORS["electrolytic 47 µF 25 V low-ESR"]
    ripple = entry.values["rated_ripple"].spread.typical
    with_it, without = (expected_life(entry, 358.15, a) for a in (ripple, 0.0))
    assert without / with_it == pytest.approx(np.sqrt(2.0))


def test_what_promises_none_is_refused() -> None:
    with pytest.raises(ValueError, match="film 100 nF 63 V states no life"):
        expected_life(CAPACITORS["film 100 nF 63 V"], 300.0, 0.1)


def capacitance(name: str, kelvin: float, **values: float) -> float:
    """Of a part at nil volts [F]."""
    known = {**typical_values("capacitor", name), **values}
    at = {"plus": 1e-3, "minus": 0.0, "plate": 1e-3}
    part = LonePart(kinds()["capacitor"], known, at, CAPACITORS[name].options)
    part.ambient = kelvin
    ((_, _, charge),) = part.run().charges
    return float(charge) / 1e-3


@pytest.mark.parametrize("name", CLASS_2)
def test_class_2_states_what_bias_and_temperature_take(name: str) -> None:
    values = CAPACITORS[name].values
    assert values["bias_loss"].spread.low > 0.0
    assert values["temperature_loss"].spread.high > 0.0


@pytest.mark.parametrize(
    ("grade", "bottom", "top"),
    [("X7R 1206", 218.15, 398.15), ("X5R 0805", 238.15, 358.15)],
)
def test_letters_hold_to_their_upper_end(grade: str, bottom: float, top: float) -> None:
    """Within 15 %: IEC 60384-9, from memory; of X5R down to 35 °C below nil."""
    name = next(n for n in CLASS_2 if n.endswith(grade))
    worst = CAPACITORS[name].values["temperature_loss"].spread.high
    room = capacitance(name, 298.15, temperature_loss=worst)
    for kelvin in np.linspace(bottom, top, 20):
        changed = capacitance(name, float(kelvin), temperature_loss=worst) / room - 1.0
        assert -0.151 <= changed <= 0.0
    assert capacitance(name, top, temperature_loss=worst) / room == pytest.approx(0.85, abs=2e-3)


def test_class_1_and_film_are_left_alone() -> None:
    for name in ("ceramic 1 nF 50 V class 1", "film 100 nF 63 V"):
        cold, hot = (capacitance(name, k, temperature_loss=0.15) for k in (240.0, 380.0))
        assert cold == hot
