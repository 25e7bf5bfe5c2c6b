"""What happens to a supply in time, against closed forms of linear circuits."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from surveys.supplies import part, resistor, supply

from railwright.circuit.design import read_text
from railwright.prove.proof import Finding
from railwright.prove.run import prove

VOLTS, LEAST, MOST = 10.0, 0.1, 0.8
STEP = MOST - LEAST


def exactly(name: str, value: float, unit: str) -> str:
    """A value without spread."""
    return f'{name} = {{ typical = "{value} {unit}", tolerance = "0 %" }}\n'


def capacitor(farads: float, ohms: float) -> str:
    values = exactly("capacitance", farads, "F") + exactly("esr", ohms, "Ω")
    rated = 'leakage = "1 nA"\nrated_voltage = "100 V"\noptions = { dielectric = "film" }'
    return part("C1", "capacitor", "plus = OUT, minus = GND", values + rated)


def coil(henries: float, ohms: float, one: str = "IN") -> str:
    values = exactly("inductance", henries, "H") + exactly("winding_resistance", ohms, "Ω")
    rated = 'saturation_current = "1000 A"\nrated_current = "10 A"'
    return part("L1", "inductor", f"one = {one}, two = OUT", values + rated)


def step(deviation: str = "2 V", settle: str = "1 ms") -> str:
    return (
        f'accuracy = "1 %"\nload_step = {{ from = "{LEAST} A", to = "{MOST} A", rise = "10 ns", '
        f'deviation = "{deviation}", settle = "{settle}" }}'
    )


@cache
def findings(parts: str, output: str) -> dict[str, Finding]:
    """What a proof says of the rail, by check."""
    text = supply(
        parts,
        input=(VOLTS, VOLTS, VOLTS),
        volts=(VOLTS, VOLTS),
        amperes=(LEAST, MOST),
        output=output,
    )
    return {
        f.id: f
        for f in prove(read_text(text, "step.toml"), only=("transient", "overload")).findings
        if f.subject == "main"
    }


OHMS, FARADS, ESR = 1.0, 100e-6, 0.2


def test_a_load_step_on_a_capacitor_settles_with_its_time_constant() -> None:
    """v = -I (R - (R - R r/(R + r)) e^(-t/T)), T = (R + r) C: by hand from Kirchhoff's laws."""
    parts = resistor("R1", "IN", "OUT", OHMS) + capacitor(FARADS, ESR)
    moved = findings(parts, step())["transient.load-step"]
    assert moved.value == pytest.approx(STEP * OHMS, rel=0.01)
    assert (moved.verdict, moved.limit) == ("holds", 2.0)
    up, back = moved.curves[0].lines
    assert up.up[-1] == pytest.approx(VOLTS - MOST * OHMS, rel=1e-3)
    assert back.up[-1] - up.up[-1] == pytest.approx(STEP * OHMS, rel=0.01)
    lasting = STEP * (OHMS - OHMS * ESR / (OHMS + ESR))
    wanted = (OHMS + ESR) * FARADS * np.log(lasting / (0.01 * VOLTS))
    took = findings(parts, step())["transient.settle"]
    assert took.value == pytest.approx(wanted, rel=0.08)  # instants lie that far apart
    assert took.verdict == "holds"
    late = findings(parts, step(deviation="0.6 V", settle=f"{wanted / 1.2} s"))
    assert late["transient.load-step"].verdict == "falls short"
    assert late["transient.settle"].verdict == "falls short"


def test_a_load_step_rings_with_coil_and_capacitor() -> None:
    """Step response of (R + s L) / (1 + s R C + s^2 L C), inverted by hand."""
    henries, ohms = 100e-6, 0.1
    damping = (ohms + 1e-4) / (2.0 * henries)
    turns = np.sqrt(1.0 / (henries * FARADS) - damping**2)
    time = np.linspace(0.0, 10e-3, 100_001)
    swing = -ohms * np.cos(turns * time)
    swing += (1.0 / FARADS - damping * ohms) / turns * np.sin(turns * time)
    peak = STEP * np.max(ohms + np.exp(-damping * time) * swing)
    parts = coil(henries, ohms) + capacitor(FARADS, 1e-4)
    found = findings(parts, step(deviation="0.5 V"))["transient.load-step"]
    assert found.value == pytest.approx(peak, rel=0.01)
    assert found.verdict == "falls short"


def test_what_swings_without_an_end_does_not_settle() -> None:
    parts = coil(1e-3, 1e-4) + capacitor(FARADS, 1e-4)
    found = findings(parts, step())["transient.settle"]
    assert found.verdict == "falls short"
    assert "still moves" in found.because


def powered(
    parts: str, amperes: float, source: str = 'resistance = "0 Ω"', output: str = ""
) -> dict[str, Finding]:
    """What a proof says of a rail that is fed from 10 V."""
    text = supply(
        parts,
        input=(VOLTS, VOLTS, VOLTS),
        volts=(VOLTS, VOLTS),
        amperes=(amperes, amperes),
        output=f'accuracy = "5 %"\n{output}',
    ).replace('resistance = "0 Ω"', source, 1)
    return {
        f.id: f
        for f in prove(read_text(text, "power.toml"), only=("transient", "overload")).findings
        if f.subject == "main"
    }


def test_a_coil_and_a_capacitor_overshoot_at_power_up() -> None:
    """V (1 + exp(-pi z / sqrt(1 - z^2))), z = R/2 sqrt(C/L): second-order step response.

    Ogata, Modern Control Engineering, section 5.3 (from memory). The source's rise of 1 ms is
    short against the period of 20 ms, and takes less than half a percent of it.
    """
    henries, farads, ohms = 10e-3, 1e-3, 2.0
    ratio = ohms / 2.0 * np.sqrt(farads / henries)
    peak = VOLTS * (1.0 + np.exp(-np.pi * ratio / np.sqrt(1.0 - ratio**2)))
    survives = f'never_above = "{1.2 * VOLTS} V"'
    found = powered(coil(henries, ohms) + capacitor(farads, 1e-4), 0.0, output=survives)
    assert found["transient.start-up"].value == pytest.approx(peak, rel=0.005)
    assert found["transient.start-up"].verdict == "falls short"
    for check, level in (("start-up", 1.2 * VOLTS), ("comes-up", 0.95 * VOLTS)):
        fast, _ = found[f"transient.{check}"].curves
        assert fast.lines[0].up.max() == pytest.approx(peak, rel=0.005)
        assert fast.levels[0].up == pytest.approx(level)
    calm = powered(resistor("R1", "IN", "OUT", 1.0) + capacitor(farads, 0.1), 0.0, output=survives)
    assert calm["transient.start-up"].verdict == "holds"
    assert calm["transient.start-up"].value == pytest.approx(VOLTS, rel=1e-3)
    assert calm["transient.comes-up"].verdict == "holds"


def test_an_overshoot_is_not_asked_for_where_the_need_does_not_speak_of_any() -> None:
    """An accuracy speaks of the supply at rest."""
    quiet = powered(resistor("R1", "IN", "OUT", 1.0) + capacitor(1e-3, 0.1), 0.0)
    assert "transient.start-up" not in quiet
    assert "transient.comes-up" in quiet


def test_a_source_in_its_limit_does_not_bring_up_a_load_that_takes_more() -> None:
    """1 A of constant current from 0.5 A: the output stays where the load begins to draw."""
    limited = 'resistance = "0.1 Ω"\nlimit = { current = "0.5 A", style = "constant-current" }'
    parts = resistor("R1", "IN", "OUT", 0.01) + capacitor(1e-3, 0.1)
    found = powered(parts, 1.0, limited)["transient.comes-up"]
    assert found.verdict == "falls short"
    assert found.value is not None
    assert found.value < 0.4  # V, where an electronic load takes its full current
    assert powered(parts, 0.4, limited)["transient.comes-up"].verdict == "holds"


def plugged(rated: float, ohms: float) -> Finding | None:
    """What a proof says of a capacitor behind a cable of 1 µH; None where nothing adds to 10 V."""
    ceramic = capacitor(10e-6, 1e-3).replace('"100 V"', f'"{rated} V"')
    parts = ceramic.replace('plus = "OUT"', 'plus = "IN"') + resistor("R1", "IN", "OUT", 100.0)
    text = supply(
        parts, input=(VOLTS, VOLTS, VOLTS), volts=(VOLTS, VOLTS), amperes=(0.0, 0.0)
    ).replace('resistance = "0 Ω"', f'resistance = "{ohms} Ω"\ncable_inductance = "1 µH"', 1)
    found = prove(read_text(text, "plug.toml"), only=("transient", "overload")).findings
    asked = [f for f in found if f.id == "transient.hot-plug" and "C1" in f.subject]
    return asked[0] if asked else None


def test_a_cable_rings_with_a_ceramic_capacitor_when_it_is_plugged_in() -> None:
    """V (1 + exp(-pi z / sqrt(1 - z^2))) again, of cable, source and series resistance."""
    ohms = 0.05
    ratio = (ohms + 1e-3) / 2.0 * np.sqrt(10e-6 / 1e-6)
    peak = VOLTS * (1.0 + np.exp(-np.pi * ratio / np.sqrt(1.0 - ratio**2)))
    weak, strong = plugged(16.0, ohms), plugged(35.0, ohms)
    assert weak is not None
    assert strong is not None
    assert weak.value == pytest.approx(peak, rel=0.01)
    assert weak.curves[0].lines[0].up.max() == pytest.approx(peak, rel=0.01)
    assert (weak.verdict, weak.limit, strong.verdict) == ("falls short", 16.0, "holds")
    assert plugged(16.0, 1.0) is None  # damped: nothing rings


def test_a_suppressor_may_do_what_it_is_there_for() -> None:
    """It takes the ringing to beyond its stand-off, which bounds what lasts, and keeps it there."""
    parts = capacitor(1e-6, 1e-3).replace('plus = "OUT"', 'plus = "IN"')
    parts += resistor("R1", "IN", "OUT", 100.0) + part(
        "D1",
        "suppressor",
        "anode = GND, cathode = IN",
        'use = "suppressor 12 V 400 W"\nstandoff_voltage = "10 V"',
    )
    text = supply(parts, input=(VOLTS,) * 3, volts=(VOLTS, VOLTS), amperes=(0.0, 0.0)).replace(
        'resistance = "0 Ω"', 'resistance = "0.02 Ω"\ncable_inductance = "1 µH"', 1
    )  # fmt: skip
    found = prove(read_text(text, "plug.toml"), only=("transient.hot-plug",)).findings
    (rung,) = (f for f in found if f.subject == "C1 rated_voltage")
    assert rung.value is not None
    assert 12.0 < rung.value < 2.0 * VOLTS
    assert "D1 standoff_voltage" not in {f.subject for f in found}


def test_a_rail_behind_a_slow_filter_is_followed_until_it_is_up() -> None:
    # 4.7 kΩ and 1 mF take 5 x 4.7 s; the source could fill them within milliseconds.
    text = supply(
        resistor("R1", "IN", "OUT", 4700) + part("C1", "capacitor", "plus = OUT, minus = GND",
        'use = "electrolytic 1000 µF 25 V low-ESR"'),
        volts=(10.0, 10.0), output='accuracy = "5 %"', ambient=(25.0, 25.0),
    )  # fmt: skip
    (found,) = [
        f for f in prove(read_text(text, "x.toml"), only=["transient.comes-up"]).findings
        if f.id == "transient.comes-up"
    ]  # fmt: skip
    assert found.verdict == "holds", found.because
