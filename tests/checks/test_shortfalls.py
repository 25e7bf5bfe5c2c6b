"""Each check finds its own shortfall in a supply that was sound before, and names its subject."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pytest

from railwright.checks import every, every_wiring
from railwright.circuit.design import read_text
from railwright.prove.proof import Finding
from railwright.prove.run import prove

DATA = Path(__file__).parents[1] / "data"
FIVE, SIGNALS, CABIN = "trimmed_five_volts.toml", "tripping_rail.toml", "cabin_supply.toml"
FOLLOWER = "buffered_reference.toml"
Changes = tuple[tuple[str, str], ...]

ADJUST = 'adjust = "ADJ", '
R4 = """[[part]]
ref = "R4"
kind = "resistor"
use = "film resistor 0.25 W 1 %"
resistance = "10k"
pins = { one = "V5", two = "ALARM" }
"""
PULLED = R4[R4.index("resistance") :]
LOOSE = """
[[part]]
ref = "R9"
kind = "resistor"
use = "film resistor 0.25 W 1 %"
resistance = "1k"
pins = { one = "LOOSE", two = "ENDS" }

[[part]]
ref = "R8"
kind = "resistor"
use = "film resistor 0.25 W 1 %"
resistance = "1k"
pins = { one = "LOOSE", two = "ENDS" }
"""
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
DIVIDER = 'pins = { one = "V5", two = "LIMIT" }'
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
    ("headroom.reference-current", "U3", CABIN, (('"1k"\npins = { one = "IN", two = "REF" }',
                                                  '"47k"\npins = { one = "IN", two = "REF" }'),)),
)  # fmt: skip
ELSEWHERE = {
    "headroom.sense-swing": "an output that ends below the threshold leaves it not proven",
    "overload.power-up": "tests/prove/test_radio_bench_rail.py: the first board comes up on",
    "headroom.shortest-pulse": "no small supply here gets below a shortest pulse yet",
    "headroom.input-bottom": "no small supply here has an input below ground yet",
}


def text_of(base: str) -> str:
    return (DATA / base).read_text("utf-8")


@cache
def findings(base: str, changes: Changes) -> list[Finding]:
    text = text_of(base) + END
    for old, new in changes:
        assert old in text, old
        text = text.replace(old, new, 1)
    return list(prove(read_text(text.replace(END, ""), base)).findings)


def verdicts(found: list[Finding], check: str, subject: str) -> set[str]:
    return {f.verdict for f in found if f.id == check and subject in f.subject}


@pytest.mark.parametrize(("check", "subject", "base", "changes"), SHORTFALLS,
                         ids=[row[0] for row in SHORTFALLS])  # fmt: skip
def test_shortfall_is_found(check: str, subject: str, base: str, changes: Changes) -> None:
    found = findings(base, changes)
    short = [f for f in found if f.id == check and f.verdict == "falls short"]
    assert subject in [f.subject for f in short], [(f.id, f.subject, f.verdict) for f in found
                                                    if f.id == check]  # fmt: skip
    assert all(f.because and f.source for f in short)


@pytest.mark.parametrize("base", [FIVE, CABIN, FOLLOWER])
def test_a_sound_supply_falls_short_nowhere(base: str) -> None:
    bad = [(f.id, f.subject, f.because) for f in findings(base, ()) if f.verdict == "falls short"]
    assert bad == []


def test_every_check_is_shown_to_find_something() -> None:
    known = {row[0] for row in SHORTFALLS} | set(ELSEWHERE)
    assert {check.id for check in (*every(), *every_wiring())} == known
