"""Charge pump that inverts its input: means over its cycle, and cycle by cycle."""

from __future__ import annotations

from collections.abc import Mapping

from railwright.devices.arithmetic import exp, limited, maximum, minimum, sqrt, step
from railwright.devices.capacitor import capacitance
from railwright.devices.device import (
    CASE,
    JUNCTION,
    JUNCTION_OBSERVES,
    JUNCTION_VALUES,
    Device,
    Fault,
    Link,
    Number,
    Pin,
    Rating,
    Terms,
    Value,
    dissipate,
)
from railwright.devices.noise import thermal_noise
from railwright.devices.switching import SUPPLY_HYSTERESIS, elapsed, period

QUARTER = 0.25  # of the on-resistance of all four switches is that of one
LEAK = 1e-7  # S; of each open switch, which holds the pins of the flying capacitor
SEEN = 1e-2  # V; by which what a capacitor holds may differ from what lies between our pins
AGREE = 0.9  # least share by which both have to
AWAKE = 0.1  # V; of the supply, over which it begins to work
AMISS = 0.01  # of the supply, by which the mean of a pin may lie off the middle of its ends
BODY = 0.6  # V; above ground, at which the switches' body diodes conduct (any textbook)
FAST = 30.0  # time constants in half a cycle; more of them make no difference


class ChargePumpInverter(Device):
    """Four switches that lay a capacitor across the input and across the output by turns.

    In the first half of its cycle the capacitor lies between input and ground, in the second one
    between ground and output, which so comes to lie below ground by what the input lies above it.
    The cycle takes two periods of the oscillator. Cycle by cycle every closed switch is a
    resistance. In the mean a half in which a capacitor C is charged through R acts like the
    resistance coth(1/(4 f R C))/(2 f C): 1/(2 f C) where it has the time, 2 R where it has not.
    Their sum is less than 2 R + 1/(f C), which datasheets give, and equal to it in both limits.
    The series resistance of the capacitor at the output carries the output current to and fro, and
    adds itself once. The output capacitor counts as much larger than the flying one: where both
    are alike, the mean is off by 1/16 of 1/(f C).
    In the mean all losses of the switching count as the part's own heat; in truth the capacitors'
    series resistances have their share of it. A pin of the flying capacitor that something holds
    ends the pumping; what a bridge at `cap_minus` heats is then counted too small.

    The noise of a capacitor that is switched is that of the resistance it acts like, far below its
    frequency (any textbook on switched capacitors).

    Sources: datasheets of the 7660 type (first order); Kimball, Krein and Cahill, Modeling of
    capacitor impedance in switching converters, IEEE Power Electronics Letters 3 (2005), from
    memory (coth). Faults and their shares: linear integrated circuits, RAC FMD-97 as commonly
    quoted (from memory), for want of a row for charge pumps.
    """

    kind = "charge-pump-inverter"
    pins = {
        "input": Pin("power-input"),
        "ground": Pin("ground"),
        "cap_plus": Pin("switch"),
        "cap_minus": Pin("switch"),
        "output": Pin("power-output"),
        **CASE,
    }
    values = {
        "frequency": Value("Hz", "of the oscillator; it pumps at half of it", least=1.0),
        "switch_resistance": Value("Ω", "on-resistance of all four switches, added", least=1e-3),
        "quiescent_current": Value("A", "own current without a load", least=0.0),
        "supply_minimum": Value("V", "least input voltage that works", least=0.0),
        **JUNCTION_VALUES,
    }
    holds = {
        "tick": -1.0,  # s; when this cycle began
        "due": 0.0,  # s; when the next one begins
        "on": 0.0,  # 1 while the capacitor lies across the input, 0 while across the output
        "works": 1.0,
    }
    ratings = {
        "supply_maximum": Rating("V", "supply_voltage", "regulator", "input voltage"),
        "rated_current": Rating("A", "output_current", "regulator", "output current", over="mean"),
        "junction_limit": Rating("°C", "junction", "regulator", "junction"),
    }
    unknowns = JUNCTION
    switched_unknowns = JUNCTION
    observes = {
        "supply_voltage": "V",
        "output_current": "A",
        "output_resistance": "Ω",
        "frequency": "Hz",
        **JUNCTION_OBSERVES,
    }
    links = {
        "flying": Link(("capacitor",), at="cap_plus", pins=("plus", "minus"), to="cap_minus"),
        "reservoir": Link(("capacitor",), at="output", pins=("minus", "plus"), to="ground"),
    }
    faults = (
        Fault("open", 0.3, ("output",)),
        Fault("open", 0.2, ("input",)),
        Fault("short", 0.2, ("output", "ground")),
        Fault("short", 0.2, ("input", "ground")),
        Fault("drift", 0.1, moves=("frequency",)),
    )
    conducts = (
        ("input", "cap_plus"),
        ("cap_plus", "ground"),
        ("cap_minus", "ground"),
        ("cap_minus", "output"),
    )
    symbol = "charge-pump"

    def needed_links(self, options: Mapping[str, str]) -> tuple[str, ...]:
        return tuple(self.links)

    def equations(self, t: Terms) -> None:
        stored = t.v("cap_plus") - t.v("cap_minus")
        joined, bled = _joined(t, stored)
        awake = step((_supply(t) - t.p.supply_minimum) / AWAKE + 0.5)
        free, held = _means(t, awake)
        resistance = _resistance(t, stored)
        conductance = awake * joined * free / resistance
        moved = conductance * (_supply(t) + _output(t))
        t.through("input", "ground", moved)
        t.through("output", "ground", moved)
        t.noise("output", "ground", thermal_noise(t.ambient, conductance))
        dissipate(t, moved * (_supply(t) + _output(t)) + bled + held + _rest(t))
        _observe(t, moved)
        t.observe("output_resistance", resistance)

    def switched_equations(self, t: Terms) -> None:
        conductance = t.p.works / (QUARTER * t.p.switch_resistance)
        first, second = t.p.on * conductance, (1.0 - t.p.on) * conductance
        heat = (
            _switch(t, "input", "cap_plus", first)
            + _switch(t, "cap_minus", "ground", first)
            + _switch(t, "cap_plus", "ground", second)
            + _switch(t, "output", "cap_minus", second)
        )
        _clock(t)
        dissipate(t, heat + _rest(t))
        _observe(t, second * (t.v("output") - t.v("cap_minus")))


def _supply(t: Terms) -> Number:
    return t.v("input") - t.v("ground")


def _output(t: Terms) -> Number:
    """Against its ground; below nil [V]."""
    return t.v("output") - t.v("ground")


def _resistance(t: Terms, stored: Number) -> Number:
    """Of the output in the mean: both halves of the cycle, and what is at the output [Ω]."""
    flying, reservoir = t.linked("flying"), t.linked("reservoir")
    pair = 2.0 * QUARTER * t.p.switch_resistance
    if flying is None:
        return pair / LEAK
    half = _half(0.5 * t.p.frequency, capacitance(flying, stored), pair + flying.p.esr)
    return 2.0 * half + (0.0 if reservoir is None else reservoir.p.esr)


def _half(frequency: Number, moved: Number, resistance: Number) -> Number:
    """coth(1/(4 f R C))/(2 f C) [Ω]."""
    constants = minimum(0.25 / (frequency * resistance * moved), FAST)
    left = exp(-2.0 * constants)
    return 0.5 * (1.0 + left) / ((1.0 - left) * frequency * moved)


def _joined(t: Terms, stored: Number) -> tuple[Number, Number]:
    """1 where the flying capacitor holds what lies between our pins, nil where a joint is open.

    Its mean current is nil, so that only its voltage tells: it is emptied by no more than it leaks
    itself, which an open joint does not make good. Second, the heat of that [W].
    """
    flying = t.linked("flying")
    if flying is None:
        return 0.0, 0.0
    held = flying.v("plus") - flying.v("minus")
    flying.through("plus", "minus", LEAK * held)
    theirs, ours = held * held + SEEN * SEEN, stored * stored + SEEN * SEEN
    share = 2.0 * theirs * ours / (theirs * theirs + ours * ours)
    return step((share - AGREE) / (1.0 - AGREE)), LEAK * held * held


def _means(t: Terms, awake: Number) -> tuple[Number, Number]:
    """1 where both pins of the flying capacitor go to and fro; nil where something holds one.

    Two equal switches that lay a pin half the time to either of two ends give it (middle of the
    ends - its mean)/R in the mean, half of that from either end, beside what passes from end to
    end. A capacitor takes none of it, so that the pin is in the middle. What holds it elsewhere
    carries it, and since no switch conducts uphill as much passes from the upper to the lower end.
    Second, the heat of all that [W].
    """
    half = 0.5 * awake / (QUARTER * t.p.switch_resistance)
    free, heat = 1.0, 0.0
    for pin, one, other in (("cap_plus", "input", "ground"), ("cap_minus", "ground", "output")):
        off = t.v(pin) - 0.5 * (t.v(one) + t.v(other))
        amiss = off / (AMISS * (abs(_supply(t)) + AWAKE))
        free = free * step(2.0 - amiss * amiss)
        across = t.v(one) - t.v(other)
        passes = half * off * off / sqrt(off * off + AWAKE * AWAKE) * limited(across / AWAKE, 1.0)
        t.through(pin, one, half * off)
        t.through(pin, other, half * off)
        t.through(one, other, passes)
        heat = heat + 2.0 * half * off * off + passes * across
    return free, heat


def _switch(t: Terms, start: str, end: str, conductance: Number) -> Number:
    """A switch between two pins; its heat [W]."""
    across = t.v(start) - t.v(end)
    t.through(start, end, conductance * across)
    return conductance * across * across


def _rest(t: Terms) -> Number:
    """What flows whatever the switches do; its heat [W]."""
    return _leak(t) + _body(t) + _own(t)


def _leak(t: Terms) -> Number:
    """What leaks through the open switches; its heat [W]."""
    ways = ("input", "cap_plus"), ("cap_plus", "ground"), ("cap_minus", "ground")
    return sum(_switch(t, *way, LEAK) for way in (*ways, ("output", "cap_minus")))


def _body(t: Terms) -> Number:
    """What the switches' body diodes pass from an output above ground; its heat [W]."""
    beyond = maximum(_output(t) - BODY, 0.0)
    current = beyond * beyond / sqrt(beyond * beyond + AWAKE * AWAKE)
    current = current / (QUARTER * t.p.switch_resistance)
    t.through("output", "ground", current)
    return current * _output(t)


def _own(t: Terms) -> Number:
    """What it takes for itself; its heat [W]."""
    drawn = t.p.quiescent_current * step(_supply(t) / AWAKE)
    t.through("input", "ground", drawn)
    return drawn * _supply(t)


def _clock(t: Terms) -> None:
    """Turn the switches over twice in a cycle, and rest while the supply is too low."""
    supply = _supply(t)
    t.event(elapsed(t) - 0.5 * period(t), on=0.0)
    t.event(t.time - t.p.due, tick=t.p.due, due=t.p.due + 2.0 / t.p.frequency, on=1.0)
    t.event(supply - t.p.supply_minimum, works=1.0)
    t.event(t.p.supply_minimum - SUPPLY_HYSTERESIS - supply, works=0.0)


def _observe(t: Terms, current: Number) -> None:
    t.observe("supply_voltage", _supply(t))
    t.observe("output_current", current)
    t.observe("frequency", 0.5 * t.p.frequency)
