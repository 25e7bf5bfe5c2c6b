"""Linear and step-down regulators in small circuits."""

import numpy as np
import pytest
from devices.solving import Part, Solution, resistor, solved, source
from published import Row, published

R1, R2 = 240.0, 720.0


def adjustable(**values: float) -> list[Part]:
    pins = {"input": "IN", "output": "OUT", "adjust": "ADJ"}
    return [
        source("V", "IN"),
        Part(
            "U",
            "adjustable-regulator",
            pins,
            {"junction_to_ambient": 0.1, **values},
            name="317 type 1.5 A",
        ),
        resistor("R1", "OUT", "ADJ", R1),
        resistor("R2", "ADJ", "GND", R2),
        resistor("L", "OUT", "GND"),
    ]


def test_adjustable_regulator_meets_its_set_formula() -> None:
    """Vout = Vref (1 + R2/R1) + Iadj R2: 5.036 V with 240 Ω and 720 Ω (317 type datasheet)."""
    exact = {"line_regulation": 0.0, "load_regulation": 1e-6}
    found = solved(adjustable(**exact), V_voltage=10.0, L_resistance=[1e4, 100.0])
    assert found["OUT"] == pytest.approx(1.25 * (1 + R2 / R1) + 50e-6 * R2, abs=1e-4)


def test_load_and_line_regulation_are_the_stated_ones() -> None:
    found = solved(adjustable(), V_voltage=[12.0, 12.0, 32.0], L_resistance=[1e6, 3.4, 1e6])
    loaded = found["U.regulated_voltage"]
    amperes = np.diff(found["U.output_current"][:2])[0]
    assert np.diff(loaded[:2])[0] == pytest.approx(
        -1.25 * (3e-3 * amperes / 1.5), rel=0.02, abs=2e-5
    )
    assert loaded[2] - loaded[0] == pytest.approx(1.25 * 2e-4 * 20.0, rel=0.02)


def test_dropout_is_reached_at_the_stated_current() -> None:
    """2.0 V at 1 A, 25 °C: below it the output follows the input (317 type datasheet)."""
    found = solved(adjustable(), V_voltage=[6.0, 7.5], L_resistance=[3.99, 5.0])
    assert found["U.output_current"][0] == pytest.approx(1.0, rel=0.01)
    assert found["U.across"][0] == pytest.approx(2.0, abs=0.01)
    assert found["U.across"][0] == pytest.approx(found["U.dropout"][0], abs=1e-3)
    assert found["U.across"][1] > found["U.dropout"][1] + 0.1


def test_current_limit_folds_back_with_the_voltage_across() -> None:
    """2.2 A at 15 V across and 0.4 A at 40 V (317 type datasheet)."""
    found = solved(adjustable(), V_voltage=[15.0, 40.0], L_resistance=1e-3)
    assert found["U.output_current"] == pytest.approx(np.array([2.2, 0.4]), rel=0.05)


def test_output_above_the_input_draws_next_to_nothing_back() -> None:
    parts = [*adjustable(), source("W", "X"), resistor("RX", "X", "OUT", 10.0)]
    found = solved(parts, V_voltage=3.0, W_voltage=12.0, L_resistance=1e5)
    assert abs(found["U.output_current"][0]) < 1e-4


def fixed(**values: float) -> list[Part]:
    pins = {"input": "IN", "output": "OUT", "ground": "GND"}
    return [source("V", "IN"), Part("U", "fixed-regulator", pins, values, name="7805 type 1 A")]


@pytest.mark.parametrize("row", published("short-circuit current of a fixed regulator"), ids=str)
def test_short_circuit_current_of_a_fixed_regulator(row: Row) -> None:
    parts = [*fixed(), resistor("L", "OUT", "GND", 1e-3)]
    found = solved(parts, V_voltage=row.inputs["input"])
    assert found["U.output_current"] == row.expected_within_its_tolerance


@pytest.mark.parametrize(("volts", "expected"), [(0.0, 0.0), (5.0, 3.5), (10.0, 5.0), (30.0, 5.0)])
def test_idle_fixed_regulator_has_a_defined_output(volts: float, expected: float) -> None:
    assert solved(fixed(), V_voltage=volts)["OUT"] == pytest.approx(expected, abs=0.15)


@pytest.mark.parametrize("reversed_", [False, True])
def test_an_input_below_its_dropout_gives_no_current(reversed_: bool) -> None:
    """Not even into a short circuit; least of all from below ground, out of nothing.

    A pass element passes current from the higher to the lower end (common practice, no source).
    """
    ends = {"plus": "GND", "minus": "X"} if reversed_ else {"plus": "X", "minus": "GND"}
    parts = [
        Part("V", "source", ends, {"resistance": 1e-3, "current_limit": 10.0}),
        resistor("RX", "X", "IN", 100.0),
        *fixed(quiescent_current=0.0)[1:],
        resistor("RO", "OUT", "GND", 1e-3),
    ]
    found = solved(parts, V_voltage=[0.2, 0.8, 1.4])
    assert found["IN"] == pytest.approx(found["X"], abs=0.01)
    assert np.all(np.abs(found["U.output_current"]) < 1e-4)


def test_heat_of_a_fixed_regulator() -> None:
    """12 V to 5 V at 0.2085 A, 22 °C, 45 K/W: 1.46 W and 88 °C, as computed in public.

    Source: forum thread "7805 voltage regulator overheating", where nothing was wrong.
    """
    parts = [
        *fixed(junction_to_ambient=45.0, quiescent_current=0.0),
        resistor("L", "OUT", "GND", 5.0 / 0.2085),
    ]
    found = solved(parts, V_voltage=12.0, **{"_ambient": 295.15})
    assert found["U.power"] == pytest.approx(1.46, abs=0.01)
    assert found["U.junction"] - 273.15 == pytest.approx(87.7, abs=0.5)


IDEAL = {
    "saturation_voltage": 0.0,
    "switch_resistance": 1e-4,
    "transition_time": 0.0,
    "quiescent_current": 0.0,
    "standby_current": 0.0,
    "gain": 1e5,
}


def step_down(
    inductance: float = 68e-6,
    options: dict[str, str] | None = None,
    disable: bool = False,
    **values: float,
) -> list[Part]:
    pins = {"input": "IN", "switch": "SW", "ground": "GND", "feedback": "FB"}
    extra = [source("D", "DIS")] if disable else []
    if disable:
        pins["disable"] = "DIS"
    coil = {"inductance": inductance, "winding_resistance": 1e-6, "saturation_current": 1e3}
    return [
        *extra,
        source("V", "IN", resistance=1e-6),
        Part(
            "U",
            "step-down-regulator",
            pins,
            {"junction_to_ambient": 0.1, **values},
            options or {},
            "step-down 150 kHz 3 A",
        ),
        Part("DF", "diode", {"anode": "GND", "cathode": "SW"}, name="1N5822"),
        Part("L", "inductor", {"one": "SW", "two": "OUT"}, coil),
        resistor("R1", "OUT", "FB", 3090.0),
        resistor("R2", "FB", "GND", 1000.0),
        resistor("RL", "OUT", "GND"),
    ]


def test_step_down_meets_its_set_formula() -> None:
    """Vout = Vref (1 + R1/R2) (150 kHz 3 A step-down type, adjustable procedure)."""
    found = solved(
        step_down(feedback_current=0.0, gain=1e5), V_voltage=[8.0, 40.0], RL_resistance=5.0
    )
    assert found["OUT"] == pytest.approx(1.23 * 4.09, rel=1e-4)


def test_continuous_conduction_ratio() -> None:
    """Vsw = D (Vin - Von) - (1 - D) Vd (Erickson and Maksimovic, chapter 3)."""
    found = solved(step_down(), V_voltage=[8.0, 12.0, 30.0], RL_resistance=4.0)
    duty, on = found["U.duty"], found["V.voltage"] - found["U.diode_reverse_voltage"]
    diode = -(found["SW"] - duty * (found["V.voltage"] - on)) / (1 - duty)
    assert np.all(found["U.continuous"] == 1.0)
    assert np.all((diode > 0.2) & (diode < 0.5))
    assert on == pytest.approx(0.86 + 0.1 * found["U.coil_current"], rel=1e-6)


def test_discontinuous_conduction_ratio() -> None:
    """M = 2 / (1 + sqrt(1 + 4 K / D^2)), K = 2 L f / R (Erickson and Maksimovic, chapter 5).

    A diode's drop adds to both voltages: the ratio is that of (Vout + Vd) to (Vin + Vd).
    """
    load = np.array([1e3, 200.0, 60.0])
    found = solved(step_down(10e-6, **IDEAL), V_voltage=40.0, RL_resistance=load)
    assert np.all(found["U.continuous"] == 0.0)
    drop = freewheel_drop(found)
    assert np.all((drop > 0.1) & (drop < 0.5))
    resistance = (found["OUT"] + drop) / found["U.coil_current"]
    parameter = 2 * 10e-6 * 150e3 / resistance
    ratio = 2.0 / (1.0 + np.sqrt(1.0 + 4.0 * parameter / found["U.duty"] ** 2))
    assert (found["OUT"] + drop) / (40.0 + drop) == pytest.approx(ratio, rel=2e-3)


def freewheel_drop(found: Solution) -> np.ndarray:
    """The diode's drop that the regulator reckons with, from its mean switch voltage."""
    share = 1.0 - found["U.diode_current"] / found["U.coil_current"]
    return (share * found["U.diode_reverse_voltage"] - found["SW"]) / (1.0 - share)


@pytest.mark.parametrize("load", [500.0, 50.0, 12.0, 3.0])
def test_averaged_model_agrees_with_its_waveform(load: float) -> None:
    """The coil current, integrated step by step over a cycle, has the model's mean and peak."""
    found = solved(step_down(22e-6), V_voltage=15.0, RL_resistance=load)
    duty, out, switch = (float(found[n][0]) for n in ("U.duty", "OUT", "SW"))
    on = 15.0 - float(found["U.diode_reverse_voltage"][0])
    diode_drop = float(freewheel_drop(found)[0])
    steps = 20_000
    dt = 1.0 / 150e3 / steps
    current, trace = 0.0, np.empty(steps)
    if found["U.continuous"][0] == 1.0:
        current = float(2 * found["U.coil_current"][0] - found["U.coil_peak"][0])
    for k in range(steps):
        volts = 15.0 - on - switch if k < duty * steps else -diode_drop - switch
        current = max(current + volts / 22e-6 * dt, 0.0)
        trace[k] = current
    assert out == pytest.approx(switch, abs=1e-5)
    assert trace.mean() == pytest.approx(float(found["U.coil_current"][0]), rel=0.01)
    assert trace.max() == pytest.approx(float(found["U.coil_peak"][0]), rel=0.01)


def energy_balance(found: Solution) -> np.ndarray:
    """Watts that come in less watts that go out as heat or into the load."""
    taken = -found["V.power"]
    load = found["RL.power"] + found["R1.power"] + found["R2.power"]
    return taken - load - found["U.power"] - found["L.power"]


def test_both_edges_lose_half_of_volts_times_amperes_for_their_time() -> None:
    """V I (tr + tf) f / 2 (Erickson and Maksimovic, Fundamentals of Power Electronics, 4.3)."""
    slow, abrupt = (
        solved(step_down(transition_time=time), V_voltage=[12.0, 40.0], RL_resistance=[2.0, 4.0])
        for time in (200e-9, 0.0)
    )
    lost = 0.5 * np.array([12.0, 40.0]) * slow["U.coil_current"] * 200e-9 * 150e3
    assert slow["U.power"] - abrupt["U.power"] == pytest.approx(lost, rel=0.02)


def test_energy_balances_including_the_diode() -> None:
    found = solved(step_down(), V_voltage=[6.0, 12.0, 40.0], RL_resistance=[2.0, 50.0, 4.0])
    diode = (found["DF.junction"] - 298.15) / 28.0
    assert energy_balance(found) == pytest.approx(diode, rel=1e-4, abs=1e-6)


def test_peak_current_is_limited() -> None:
    found = solved(step_down(), V_voltage=12.0, RL_resistance=[1.0, 0.1, 1e-3])
    assert np.all(found["U.coil_peak"] <= 4.5 + 1e-3)
    assert np.all(found["U.coil_peak"] > 4.45)


def test_a_short_circuit_without_coil_and_diode_is_held_at_the_current_limit() -> None:
    """Each pulse ends at the limit, and nothing lets the current fall but what is in its way."""
    parts = [p for p in step_down() if p.ref not in ("DF", "L")]
    found = solved([*parts, resistor("RS", "SW", "GND", 1e-3)], V_voltage=[8.0, 12.0, 24.0])
    assert found["U.coil_current"] == pytest.approx(np.full(3, 4.5), rel=0.01)
    assert np.all(found["U.duty"] < 0.01)


def test_without_a_coil_nothing_flows_back_through_diode_and_switch() -> None:
    """What is fed into the switch pin finds a diode that blocks and an open switch."""
    parts = [p for p in step_down(disable=True) if p.ref != "L"]
    back = [source("B", "B"), resistor("RB", "B", "SW", 10.0)]
    volts = np.array([1.0, 5.0, 20.0])
    found = solved([*parts, *back], V_voltage=12.0, D_voltage=5.0, B_voltage=volts, RL_resistance=5)
    assert found["SW"] == pytest.approx(volts, abs=0.01)


def test_full_duty_follows_the_input_less_the_switch() -> None:
    found = solved(step_down(), V_voltage=5.0, RL_resistance=5.0)
    assert found["U.duty"] == pytest.approx(1.0, abs=1e-3)
    drop = 0.86 + 0.1 * found["U.coil_current"]
    assert found["OUT"] == pytest.approx(5.0 - drop, abs=5e-3)


@pytest.mark.parametrize(("active", "inverted"), [("low", 0.0), ("high", 1.0)])
def test_disable_pin_stops_it(active: str, inverted: float) -> None:
    parts = step_down(disable=True, options={"enable_active": active})
    found = solved(
        parts, V_voltage=12.0, RL_resistance=5.0, D_voltage=[0.0, 5.0], U_enable_inverted=inverted
    )
    assert found["U.enabled"] == pytest.approx(np.array([1.0, 0.0]))
    assert found["OUT"] == pytest.approx(np.array([5.03, 0.0]), abs=0.02)
    standby = found["U.power"][1]
    assert standby == pytest.approx(12.0 * 80e-6, rel=0.01)


def test_unconnected_disable_pin_leaves_it_on() -> None:
    assert solved(step_down(), V_voltage=12.0, RL_resistance=5.0)["U.enabled"][0] == 1.0
