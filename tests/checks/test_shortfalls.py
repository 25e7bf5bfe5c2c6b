"""Each check finds its own shortfall in a supply that was sound before, and names its subject."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pytest

from railwright.checks import every, every_wiring
from railwright.circuit.design import read_text
from railwright.prove.proof import Finding, Verdict
from railwright.prove.run import prove

DATA = Path(__file__).parents[1] / "data"
FIVE, SIGNALS, CABIN = "trimmed_five_volts.toml", "tripping_rail.toml", "cabin_supply.toml"
FOLLOWER = "buffered_reference.toml"
Changes = tuple[tuple[str, str], ...]

ADJUST = 'adjust = "ADJ", '


def film_resistor(ref: str, one: str, two: str, value: str) -> str:
    """A resistor's table, to the letter as it stands in the design files."""
    return f'''[[part]]
ref = "{ref}"
kind = "resistor"
use = "film resistor 0.25 W 1 %"
resistance = "{value}"
pins = {{ one = "{one}", two = "{two}" }}
'''


R4 = film_resistor("R4", "V5", "ALARM", "10k")
PULLED = R4[R4.index("resistance") :]
LOOSE = film_resistor("R9", "LOOSE", "ENDS", "1k") + film_resistor("R8", "LOOSE", "ENDS", "1k")
CONTROL = """[[control]]
part = "RV1"
value = "position"
sets = "main.voltage"
role = "set"
"""
DECOUPLED = """
[[part]]
ref = "C9"
kind = "capacitor"
use = "ceramic 100 nF 50 V class 2"
pins = { plus = "Z", minus = "GND" }
"""
LAST_CAPACITOR = """
[[part]]
ref = "C3"
kind = "capacitor"
use = "ceramic 100 nF 50 V class 2"
pins = { plus = "V5", minus = "GND" }
"""
DIVIDER = 'pins = { one = "V5", two = "LIMIT" }'
STEP_DOWN = 'use = "step-down 150 kHz 3 A"\n'
END = "# end"

SHORTFALLS: tuple[tuple[str, str, str, Changes], ...] = (
    ("output.accuracy", "main", FIVE, (('accuracy = "2.5 %"', 'accuracy = "0.01 %"'),)),
    ("output.line-regulation", "main", FIVE,
     (('accuracy = "2.5 %"', 'line_regulation = "1 µV"'),)),
    ("output.load-regulation", "main", FIVE,
     (('accuracy = "2.5 %"', 'load_regulation = "1 mV"'),)),
    ("output.minimum-load", "U1", FIVE,
     (('"100 Ω"\npins', '"1k"\npins'), ('"270 Ω"', '"2k7"'))),
    ("headroom.series", "U1", FIVE,
     (('min = "11 V", nominal = "12 V"', 'min = "5.8 V", nominal = "12 V"'),)),
    ("headroom.regulator-current", "U1", FIVE, (('max = "0.5 A"', 'max = "2 A"'),)),
    ("heat.junction", "U1 junction_limit", FIVE,
     (("heat sink 5 K/W", "heat sink 20 K/W"), ('max = "13 V"', 'max = "20 V"'))),
    ("stress.rating", "U1 difference_maximum", FIVE, (('max = "13 V"', 'max = "40 V"'),)),
    ("wiring.open-pin", "U1", FIVE, ((ADJUST, ""),)),
    ("wiring.dc-path", "R9", FIVE, ((END, LOOSE),)),
    ("overload.carries", "signals", SIGNALS, (('carry = "0.45 A"', 'carry = "0.62 A"'),)),
    ("overload.acts", "signals", SIGNALS, (('act_by = "0.7 A"', 'act_by = "0.5 A"'),)),
    ("overload.takes-down", "signals", SIGNALS, ()),
    ("wiring.pull-up", "U4", SIGNALS, ((R4, ""),)),
    ("wiring.floating-input", "U4", SIGNALS,
     ((DIVIDER, DIVIDER.replace("LIMIT", "X")),
      ('pins = { one = "LIMIT", two = "GND" }', 'pins = { one = "X", two = "GND" }'))),
    ("wiring.unpowered", "U4", SIGNALS, (('supply = "IN"', 'supply = "Z"'), (END, DECOUPLED))),
    ("headroom.sink-current", "U4", SIGNALS, ((PULLED, PULLED.replace("10k", "270 Ω")),)),
    ("headroom.input-top", "U4", SIGNALS,
     (('"33k"', '"1k"'), ('supply = "IN"', 'supply = "V5"'))),
    ("headroom.supply", "U2", SIGNALS,
     (('supply = "V5"', 'supply = "LIMIT"'),)),
    ("output.range-top", "main", CABIN, (('max = "8 V"', 'max = "10 V"'),)),
    ("output.range-bottom", "main", CABIN, (('min = "3 V"', 'min = "1 V"'),)),
    ("output.reached", "main", CABIN, (('max = "8 V"', 'max = "12 V"'),)),
    ("output.resolution", "main", CABIN, (("ten-turn 2 kΩ", "single-turn 2 kΩ"),
                                          ('accuracy = "3 %"', 'accuracy = "0.3 %"'))),
    ("output.drift", "main", CABIN, (('accuracy = "3 %"', 'accuracy = "0.001 %"'),)),
    ("headroom.output-swing", "U1", FOLLOWER, (('min = "11 V"', 'min = "7 V"'),)),
    ("output.control", "main", CABIN, ((CONTROL, ""),)),
    ("headroom.duty", "U1", CABIN,
     (('min = "14 V"', 'min = "8.5 V"'),)),
    ("headroom.switch-current", "U1", CABIN, (('max = "0.8 A"', 'max = "4 A"'),)),
    ("wiring.enable", "U1", CABIN, (('disable = "GND"', 'disable = "IN"'),)),
    ("wiring.switch-loop", "U1", CABIN,
     (('anode = "GND", cathode = "SW"', 'anode = "SW", cathode = "GND"'),)),
    ("wiring.reversed", "C1", CABIN,
     (('plus = "IN", minus = "GND" }\nblock', 'plus = "GND", minus = "IN" }\nblock'),)),
    ("headroom.shortest-pulse", "U1", CABIN,
     ((STEP_DOWN, STEP_DOWN + 'minimum_on_time = "2 µs"\n'),)),
    ("headroom.input-bottom", "U4", SIGNALS, (('use = "391 type"', 'use = "311 type"'),)),
    ("stability.window", "U1 input_capacitance", FIVE,
     (("electrolytic 47 µF 25 V low-ESR", "film 470 nF 63 V"),)),
    ("wiring.decoupling", "U2", SIGNALS, ((LAST_CAPACITOR, ""),)),
    ("wiring.pin-order", "Q1", FOLLOWER,
     (('use = "BD139"', 'use = "BD139"\nterminals = { emitter = "3", base = "1" }'),)),
    ("wiring.feedback", "U1", CABIN,
     (('one = "UP", two = "FB"', 'one = "IN", two = "FB"'),)),
    ("headroom.reference-current", "U3", CABIN, (('"1k"\npins = { one = "IN", two = "REF" }',
                                                  '"47k"\npins = { one = "IN", two = "REF" }'),)),
)  # fmt: skip
ELSEWHERE = {
    "wiring.isolation": "tests/checks/test_isolation.py: a winding, a wire, a capacitor there",
    "stress.fuse-opens": "tests/checks/test_fuse_opens.py: fuses too large for their transformer",
    "wiring.fed": "tests/checks/test_fed.py: the shunt between series element and output is gone",
    "ripple.input": "tests/checks/test_ripple.py: pulses across the source's resistance",
    "headroom.base-drive": "tests/checks/test_drive.py: a base resistor of 100 kΩ",
    "headroom.gate-drive": "tests/checks/test_drive.py: 5.5 V where 10 V are published",
    "headroom.relay-coil": "tests/checks/test_positions.py: a resistor before the coil",
    "output.positions": "tests/checks/test_positions.py: no hysteresis",
    "stability.in-limit": "tests/checks/test_hopping.py: a limit without its integrator",
    "stability.tracking": "tests/checks/test_tracking.py: a lag at the feedback pin",
    "headroom.capacitance": "tests/checks/test_bias.py: what 13 V leave of a chip of 25 V",
    "noise.output": "tests/checks/test_noise.py: a divider's noise after Nyquist",
    "overload.limit-acts": "tests/checks/test_limiting.py",
    "wiring.thermal-path": "tests/checks/test_thermal_path.py",
    "wiring.divider": "tests/checks/test_divider.py",
    "overload.limit-carries": "tests/checks/test_limiting.py",
    "stability.poles": "tests/checks/test_stability.py: three lags make an oscillator",
    "stability.phase-margin": "tests/checks/test_stability.py: the same",
    "headroom.sense-swing": "below: an output that ends below the threshold is not proven",
    "stress.surge": "tests/checks/test_surge.py: against Ohm's law",
    "stress.fuse-surge": "tests/checks/test_surge.py: against a sum by small steps",
    "headroom.worn": "tests/checks/test_worn.py: against a sum by small steps",
    "heat.winding": "tests/checks/test_transformers.py: against a sum of its losses",
    "stress.winding": "tests/checks/test_transformers.py: against a sum by small steps",
    "life.electrolytic": "tests/checks/test_life.py: ten kelvins halve a life",
    "ripple.mains": "tests/checks/test_on_mains.py: drop-out lets all of it through",
    "overload.power-up": "tests/prove/test_radio_bench_rail.py: the first board comes up on",
    "ripple.output": "tests/checks/test_ripple.py: against its closed form",
    "ripple.subharmonic": "tests/checks/test_ripple.py: a loop that alternates",
    "stress.cycle": "tests/checks/test_ripple.py: what the cycle adds to the means",
    "transient.load-step": "tests/checks/test_transients.py",
    "transient.settle": "tests/checks/test_transients.py",
    "transient.start-up": "tests/checks/test_transients.py",
    "transient.comes-up": "tests/checks/test_transients.py",
    "transient.hot-plug": "tests/checks/test_transients.py",
    "stress.saturation-at-trip": "tests/checks/test_saturation.py",
    "stress.saturation-in-limit": "tests/checks/test_saturation.py",
    "stress.power-down": "tests/checks/test_course_stress.py",
    "stress.short-circuit": "tests/checks/test_course_stress.py",
    "stress.safe-area": "tests/checks/test_safe_area.py",
    "stress.short-circuit-pulse": "tests/checks/test_safe_area.py",
    "stress.power-up-pulse": "tests/checks/test_safe_area.py",
    "stress.charged-load": "tests/checks/test_charged_loads.py",
    "stress.fed-back": "tests/checks/test_charged_loads.py",
    "overload.peak-current": "tests/checks/test_let_through.py",
    "overload.let-through": "tests/checks/test_let_through.py",
    "stress.resistor-pulse": "tests/checks/test_let_through.py",
    "stress.fuse-in-short": "tests/checks/test_let_through.py",
    "wiring.kick": "tests/checks/test_kick.py",
    "wiring.panel": "tests/checks/test_panel.py",
    "transient.output-switch": "tests/checks/test_output_switch.py",
    "wiring.switch-on": "tests/checks/test_switch_on.py",
    "transient.switched-on": "tests/checks/test_output_switch.py",
    "transient.control-step": "tests/checks/test_control_steps.py",
    "transient.line-step": "tests/checks/test_input_changes.py",
    "transient.brown-out": "tests/checks/test_input_changes.py",
    "transient.power-down": "tests/checks/test_input_changes.py",
    "transient.returns": "tests/checks/test_input_changes.py",
    "overload.source-time": "tests/checks/test_source_time.py",
    "transient.release": "tests/checks/test_short_circuit.py",
    "transient.recovers": "tests/checks/test_short_circuit.py",
    "overload.command-time": "tests/checks/test_short_circuit.py",
    "overload.current-time": "tests/checks/test_short_circuit.py",
    "stress.ripple-current": "tests/checks/test_ripple.py",
    "output.meter-voltage": "tests/checks/test_meter.py",
    "output.meter-current": "tests/checks/test_meter.py",
    "output.remote-sense": "tests/checks/test_remote_sense.py",
    "output.turn-down": "tests/checks/test_turn_down.py",
    "output.cross-regulation": "tests/checks/test_cross_regulation.py",
    "transient.stays-off": "tests/checks/test_power_up.py",
    "stability.filter": "tests/checks/test_filters.py",
    "wiring.rail-order": "tests/checks/test_rail_order.py",
    "output.lifted-wiper": "tests/checks/test_lifted_wiper.py",
    "overload.inrush": "tests/checks/test_inrush.py",
    "overload.source": "tests/checks/test_source.py",
    "heat.touch": "tests/checks/test_touch.py",
    "wiring.start-state": "tests/checks/test_start.py",
    "wiring.windings": "tests/checks/test_windings.py",
    "wiring.mains-fuse": "tests/checks/test_mains_fuse.py",
    "wiring.recovery": "tests/checks/test_recovery.py",
    "stress.fuse-start": "tests/checks/test_fuse_start.py: against the integral of a ramp",
}
HOLDS_ELSEWHERE = {
    "overload.takes-down": "tests/prove/test_radio_bench_rail.py: the demo's trip disables it",
}
SOUND: dict[str, Changes] = {
    "wiring.pin-order": (
        ('use = "BD139"', 'use = "BD139"\nterminals = { emitter = "1", base = "3" }'),
    ),
    "output.line-regulation": (('accuracy = "2.5 %"', 'line_regulation = "0.2 V"'),),
    "output.load-regulation": (('accuracy = "2.5 %"', 'load_regulation = "0.5 V"'),),
    "headroom.shortest-pulse": ((STEP_DOWN, STEP_DOWN + 'minimum_on_time = "0.2 µs"\n'),),
}
"""Changes that put a question which the supply as it stands does not put."""


def text_of(base: str) -> str:
    return (DATA / base).read_text("utf-8")


@cache
def findings(base: str, changes: Changes, *only: str) -> list[Finding]:
    text = text_of(base) + END
    for old, new in changes:
        assert old in text, old
        text = text.replace(old, new, 1)
    return list(prove(read_text(text.replace(END, ""), base), only=only).findings)


@pytest.mark.parametrize(("check", "subject", "base", "changes"), SHORTFALLS,
                         ids=[row[0] for row in SHORTFALLS])  # fmt: skip
def test_shortfall_is_found(check: str, subject: str, base: str, changes: Changes) -> None:
    found = findings(base, changes, check)
    short = [f for f in found if f.id == check and f.verdict == "falls short"]
    assert subject in [f.subject for f in short], [(f.id, f.subject, f.verdict) for f in found
                                                    if f.id == check]  # fmt: skip
    assert all(f.because and f.source for f in short)


HOLDING = [row for row in SHORTFALLS if row[0] not in HOLDS_ELSEWHERE]


@pytest.mark.parametrize(("check", "subject", "base", "changes"), HOLDING,
                         ids=[row[0] for row in HOLDING])  # fmt: skip
def test_the_same_question_holds_where_nothing_is_wrong(
    check: str, subject: str, base: str, changes: Changes
) -> None:
    only = (check,) if check in SOUND else ()  # the supply as it stands is proved once for all
    found = [f for f in findings(base, SOUND.get(check, ()), *only) if f.id == check]
    about = [f for f in found if check.startswith("wiring.") or f.subject == subject]
    assert about, [f.subject for f in found]
    assert {f.verdict for f in about} <= {"holds", "marginal"}, [f.because for f in about]


SHUNT = '"0.1 Ω"\npins = { one = "IN", two = "SENSE" }'
LARGER = SHUNT.replace("0.1", "0.5")


def sense_swing(*changes: tuple[str, str]) -> Finding:
    asked = "headroom.sense-swing"
    (found,) = [f for f in findings(SIGNALS, changes, asked) if f.id == asked]
    assert found.subject == "U2"
    return found


def test_a_sense_amplifier_that_may_end_below_the_threshold_is_not_proven() -> None:
    # The limit is 0.12 V below the supply: typical parts get there, those at their limits don't.
    found = sense_swing((SHUNT, LARGER), ('"33k"', '"240 Ω"'))
    assert found.verdict == "not proven"
    assert "lanes could not be solved" in found.because
    assert sense_swing().verdict == "holds"


@pytest.mark.parametrize("base", [FIVE, CABIN, FOLLOWER])
def test_a_sound_supply_falls_short_nowhere(base: str) -> None:
    bad = [(f.id, f.subject, f.because) for f in findings(base, ()) if f.verdict == "falls short"]
    assert bad == []


def test_every_check_is_shown_to_find_something() -> None:
    known = {row[0] for row in SHORTFALLS} | set(ELSEWHERE)
    assert {check.id for check in (*every(), *every_wiring())} == known


SECOND = (
    film_resistor("R6", "V5", "SECOND", "10k")
    + film_resistor("R7", "SECOND", "GND", "1.1k")
    + """
[[part]]
ref = "U5"
kind = "comparator"
use = "391 type"
pins = { plus = "SECOND", minus = "I", output = "ALARM", supply = "IN", ground = "GND" }
"""
)


def test_a_sense_amplifier_is_looked_at_where_every_comparator_turns_over() -> None:
    # The second one turns over at 0.5 V, nearer to where the amplifier's output begins.
    alone = sense_swing()
    both = sense_swing((END, SECOND))
    assert alone.margin is not None
    assert both.margin is not None
    assert both.margin < 0.5 < alone.margin


SPACED = (('name = "signals"', 'name = "signal rail"'),)
IDLE_RAIL = """
[[need.output]]
name = "logic"
nets = { plus = "X", minus = "GND" }
reference = "common with input"
voltage = { min = "15 V", max = "15 V" }
current = { min = "0 A", max = "1 mA" }
overload = { style = "trip", carry = "2 mA", act_by = "5 mA" }

[need.surroundings]
"""
FEED = film_resistor("R9", "IN", "X", "1k")


TRIPS: dict[str, tuple[Changes, dict[tuple[str, str], Verdict]]] = {
    "the limit is above what the sense amplifier can give at all": (
        ((SHUNT, LARGER), ('"33k"', '"30 Ω"')),
        {
            ("overload.takes-down", "signals"): "falls short",
            ("overload.acts", "signals"): "not proven",
            ("overload.carries", "signals"): "not proven",
        },
    ),
    "a rail may have a name of several words": (
        SPACED,
        {
            ("overload.acts", "signal rail"): "holds",
            ("overload.carries", "signal rail"): "holds",
        },
    ),
    "a rail without a trip of its own beside one that has": (
        (("[need.surroundings]", IDLE_RAIL), (END, FEED)),
        {("overload.acts", "signals"): "holds", ("overload.acts", "logic"): "not proven"},
    ),
}


@pytest.mark.parametrize(("changes", "wanted"), TRIPS.values(), ids=TRIPS)
def test_what_is_found_about_a_trip(
    changes: Changes, wanted: dict[tuple[str, str], Verdict]
) -> None:
    found = findings(SIGNALS, changes, "overload")
    seen = {about: {f.verdict for f in found if f.id == about[0] and about[1] in f.subject}
            for about in wanted}  # fmt: skip
    assert seen == {about: {verdict} for about, verdict in wanted.items()}


def test_a_rail_without_a_trip_is_told_so() -> None:
    trips = TRIPS["a rail without a trip of its own beside one that has"][0]
    found = findings(SIGNALS, trips, "overload")
    (acts,) = [f for f in found if f.id == "overload.acts" and f.subject == "logic"]
    assert "no comparator turns over" in acts.because
