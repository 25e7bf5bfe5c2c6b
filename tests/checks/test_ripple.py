"""Ripple of a step-down stage against its closed form, and what each of these checks finds."""

from __future__ import annotations

import numpy as np
import pytest
from surveys.supplies import part, supply

from railwright.circuit.design import read_text
from railwright.prove.proof import Finding
from railwright.prove.run import prove

VOLTS, OUT, HENRIES, FARADS, ESR, FREQUENCY = 12.0, 5.0, 68e-6, 470e-6, 0.04, 150e3


def valued(name: str, value: str) -> str:
    """A value without spread."""
    return f'{name} = {{ typical = "{value}", tolerance = "0 %" }}\n'


def stage(
    ripple: str = "200 mV", coil: str = "", regulator: str = "", esr: float = ESR, gain: str = ""
) -> str:
    """12 V to 5 V at 1 A; parts without spread but for what the regulator brings along."""
    pins = "input = IN, switch = SW, ground = GND, feedback = FB, disable = GND"
    exact = valued("frequency", "150 kHz") + valued("saturation_voltage", "1 V")
    store = (
        valued("capacitance", f"{FARADS} F")
        + valued("esr", f"{esr} Ω")
        + 'leakage = "1 µA"\nrated_voltage = "35 V"\noptions = { dielectric = "electrolytic" }'
    )
    wound = (
        valued("inductance", f"{HENRIES} H")
        + 'winding_resistance = "50 mΩ"\nsaturation_current = "100 A"\nrated_current = "3 A"'
    )
    divider = 'rated_power = "1 W"\nrated_voltage = "100 V"\nresistance = '
    parts = [
        part(
            "U1", "step-down-regulator", pins, f'use = "step-down 150 kHz 3 A"\n{exact}{regulator}'
        ),
        part("D1", "diode", "anode = GND, cathode = SW", 'use = "1N5822"'),
        part("L1", "inductor", "one = SW, two = OUT", coil or wound),
        part("C1", "capacitor", "plus = OUT, minus = GND", store),
        part("R1", "resistor", "one = OUT, two = FB", f'{divider}"3.07 kΩ"'),
        part("R2", "resistor", "one = FB, two = GND", f'{divider}"1 kΩ"'),
    ]
    return supply(
        "".join(parts),
        input=(VOLTS, VOLTS, VOLTS),
        volts=(OUT, OUT),
        amperes=(1.0, 1.0),
        output=f'ripple = "{ripple}"',
    )


def finding(text: str, check: str, subject: str = "") -> Finding:
    found = prove(read_text(text, "stage.toml")).findings
    return next(f for f in found if f.id == check and subject in f.subject)


def test_ripple_is_that_of_the_closed_form() -> None:
    """Coil ripple (V + Vd) (1 - D) / (L f) through the series resistance of the capacitor.

    Erickson and Maksimovic, Fundamentals of Power Electronics, sections 2.2 and 2.5. The
    capacitance itself adds nothing to speak of here: a quarter period later, and a fifth of it.
    """
    found = finding(stage(), "ripple.output")
    drop = 0.35  # of the diode at 1 A, within a tenth of a volt
    duty = (OUT + drop) / (VOLTS - 1.1 + drop)  # the switch: 1 V, and 0.1 Ω at most
    swing = (OUT + drop) * (1.0 - duty) / (HENRIES * FREQUENCY)
    assert found.value == pytest.approx(swing * ESR, rel=0.06)
    assert found.verdict == "holds"
    (curves,), (line,) = found.curves, found.curves[0].lines
    assert (curves.across.unit, curves.up.unit) == ("s", "V")
    assert np.ptp(line.up) == pytest.approx(found.value, rel=1e-3)
    assert line.across[-1] == pytest.approx(2.0 / FREQUENCY, rel=1e-3)


def test_ripple_grows_with_the_series_resistance_and_falls_short() -> None:
    calm, rough = (finding(stage(esr=ohms), "ripple.output") for ohms in (0.02, 0.2))
    assert calm.value is not None
    assert rough.value == pytest.approx(10.0 * calm.value, rel=0.15)
    short = finding(stage(ripple="5 mV", esr=0.2), "ripple.output")
    assert (short.verdict, short.subject) == ("falls short", "main")


def test_ripple_on_the_input_is_what_the_pulses_leave_across_the_source() -> None:
    """Pulses as high as the coil's current across 0.1 Ω, to 2 MHz: the 13 harmonics of an edge.

    These overshoot a pulse by up to 9 % of its height at either edge (Gibbs; any textbook).
    """

    def fed(allowed: str) -> str:
        return stage().replace('"0 Ω"', f'"0.1 Ω"\nripple = "{allowed}"', 1)

    found = finding(fed("300 mV"), "ripple.input")
    assert (found.verdict, found.subject) == ("holds", "need.input")
    swing = 0.31  # A of the coil, as above
    assert 0.1 * (1.0 + 0.5 * swing) == pytest.approx(found.value, rel=0.2)
    assert finding(fed("50 mV"), "ripple.input").verdict == "falls short"


def test_a_coil_is_judged_by_its_peak_and_not_by_its_mean() -> None:
    """1 A mean and 2.7 A peak to peak leave 2.4 A at the peak; the coil saturates at 2 A."""
    small = (
        'inductance = "7.5 µH"\nwinding_resistance = "50 mΩ"\nsaturation_current = "2 A"\n'
        'rated_current = "2.4 A"'
    )
    found = finding(stage(coil=small), "stress.cycle", "L1 saturation_current")
    assert found.verdict == "falls short"
    assert found.value is not None
    assert found.value > 2.0
    assert finding(stage(coil=small), "stress.rating", "L1 saturation_current").verdict == "holds"


def test_cycles_that_are_alike_hold_and_those_that_alternate_fall_short() -> None:
    """So much gain at the switching frequency that the capacitor's ripple ends the pulses."""
    assert finding(stage(), "ripple.subharmonic").verdict == "holds"
    eager = 'gain = { min = "16000 /V", typical = "16000 /V", max = "16000 /V" }'
    found = finding(stage(regulator=eager, esr=0.2), "ripple.subharmonic")
    assert (found.verdict, found.subject) == ("falls short", "U1")
    assert "alternate" in found.because


def test_what_stays_typical_of_the_regulators_loop_is_told() -> None:
    assumed = finding(stage(), "ripple.subharmonic").assumed
    assert {"U1.gain", "U1.compensation_pole", "U1.compensation_zero"} <= set(assumed)


def test_few_samples_do_not_decide_by_yield() -> None:
    """64 that pass show no more than 94 %: then the extreme value decides."""
    asked = stage().replace('derating = "none"', 'derating = "none"\nyield = 0.997')
    assert finding(asked, "ripple.output").verdict == "holds"


def test_without_a_coil_no_cycle_is_proven_and_nothing_breaks() -> None:
    coil = stage()[stage().index('ref = "L1"') :].split("[[part]]")[0]
    resistor = (
        'ref = "L1"\nkind = "resistor"\npins = { one = "SW", two = "OUT" }\nresistance = "1 Ω"\n'
        'rated_power = "50 W"\nrated_voltage = "100 V"\n'
    )
    found = finding(stage().replace(coil, resistor), "ripple.output")
    assert found.verdict == "not proven"
    assert "U1 has no coil at its switch pin" in found.because


def test_without_what_tells_the_course_in_time_nothing_is_proven() -> None:
    unknown = stage().replace('use = "step-down 150 kHz 3 A"', OWN_REGULATOR)
    found = finding(unknown, "ripple.output")
    assert found.verdict == "not proven"
    assert "compensation_pole" in found.because


OWN_REGULATOR = (
    "\n".join(
        f'{name} = "{value}"'
        for name, value in {
            "reference": "1.23 V",
            "switch_resistance": "0.1 Ω",
            "transition_time": "100 ns",
            "duty_limit": "1",
            "gain": "500 /V",
            "current_limit": "4 A",
            "quiescent_current": "5 mA",
            "standby_current": "80 µA",
            "enable_threshold": "1.3 V",
            "supply_minimum": "4.5 V",
            "junction_to_case": "2 K/W",
            "junction_to_ambient": "50 K/W",
            "supply_maximum": "40 V",
            "rated_current": "3 A",
            "junction_limit": "125 °C",
        }.items()
    )
    + '\noptions = { control = "voltage-mode", rectifier = "diode", enable_active = "low" }'
)


def test_ripple_current_of_a_capacitor_is_that_of_the_closed_form() -> None:
    """The coil's triangle, swing / sqrt(12), goes through the output capacitor.

    Erickson and Maksimovic, Fundamentals of Power Electronics, section 2.2 and appendix A.
    """
    rated = "leakage"
    text = stage().replace(rated, 'rated_ripple = "0.2 A"\nleakage', 1)
    found = finding(text, "stress.ripple-current")
    duty = (OUT + 0.35) / (VOLTS - 1.1 + 0.35)
    swing = (OUT + 0.35) * (1.0 - duty) / (HENRIES * FREQUENCY)
    assert found.subject == "C1"
    assert found.value == pytest.approx(swing / 12**0.5, rel=0.06)
    assert found.verdict == "holds"
    short = finding(text.replace("0.2 A", "0.05 A"), "stress.ripple-current")
    assert short.verdict == "falls short"


def test_ripple_current_is_not_proven_where_an_electrolytic_promises_none() -> None:
    found = finding(stage(), "stress.ripple-current")
    assert (found.verdict, found.subject) == ("not proven", "C1")
    assert "rated ripple is known for C1" in found.because
    film = stage().replace('"electrolytic"', '"film"')
    asked = {f.id for f in prove(read_text(film, "stage.toml")).findings}
    assert "stress.ripple-current" not in asked
