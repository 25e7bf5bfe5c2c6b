"""Potentiometer and trimmer."""

from __future__ import annotations

from typing import Any

from railwright.devices.arithmetic import clipped, maximum, minimum
from railwright.devices.device import Device, Fault, Number, Pin, Rating, Terms, Value
from railwright.devices.noise import thermal_noise
from railwright.standards.iec60115 import UPPER

STOP = 1e-5  # width of the rounded end stops, as a share of the travel
BLEND = 0.02  # share of the travel at each side of its middle in which both slopes run together


class Potentiometer(Device):
    """Track with a wiper: two resistors whose sum stays, and a contact that taps them (Ohm's law).

    Position 0 has the wiper at `one`, position 1 at `two`. At either end the end resistance
    remains (the hop-off of the wiper onto its terminal). A linear track has its resistance evenly
    along the travel. A logarithmic one has two even halves, as carbon tracks are printed: of
    its resistance the share `halfway` lies below half of the travel, between `one` and the wiper
    (two-slope law, common practice, no source); more than half makes it a reverse one. From its
    law a track deviates by the conformity, nil at both ends and greatest in the middle (shape:
    common practice, no source). `step` is what the smallest step that turns or the hand allow
    changes on the way to the wiper. The contact resistance lies between track and wiper;
    it is written as the triangle that is equal to the star of the three (Kennelly).

    The rated power is that of the whole track; where only a part of it carries the current, it is
    the current that stays limited, so the heaviest section current counts as if it went through
    the whole track (IEC 60393-1, from memory). Noise: thermal (Nyquist).
    Faults and their shares: variable resistors, RAC FMD-97 as commonly quoted (from memory); the
    open one is a wiper that lifts off its track.
    """

    kind = "potentiometer"
    pins = {"one": Pin("passive"), "wiper": Pin("passive"), "two": Pin("passive")}
    values = {
        "resistance": Value("Ω", "resistance of the track, end to end", least=1e-3),
        "end_resistance": Value("Ω", "resistance left at an end stop", least=1e-3),
        "travel": Value("°", "turning angle from stop to stop", least=1.0),
        "contact_resistance": Value("Ω", "of the wiper on its track", default=0.0, least=0.0),
        "halfway": Value(
            "1",
            "share of the resistance below half of the travel, of a logarithmic one alone",
            default=0.5,
            least=0.05,
            most=0.95,
        ),
        "conformity": Value(
            "1",
            "greatest deviation from the law, as a share of the track; a linear one's linearity",
            signed=True,
            default=0.0,
            most=0.1,
        ),
        "resolution": Value(
            "1", "smallest step, as a share of the travel", default=0.0, least=0.0, most=0.1
        ),
    }
    inputs = {"position": 0.5}
    options = {"taper": ("linear", "logarithmic")}
    ratings = {
        "rated_power": Rating("W", "track_power", "resistor", "power", nil_at=UPPER),
        "wiper_current_maximum": Rating("A", "wiper_current"),
    }
    observes = {
        "power": "W",
        "track_power": "W",
        "voltage": "V",
        "wiper_current": "A",
        "position": "1",
        "step": "Ω",
    }
    faults = (
        Fault("open", 0.53, ("wiper",)),
        Fault("drift", 0.40, moves=("resistance",)),
        Fault("short", 0.07, ("one", "wiper")),
    )
    conducts = (("one", "wiper"), ("wiper", "two"), ("one", "two"))
    symbol = "potentiometer"

    def constants(self, v: Any) -> dict[str, Number]:
        # So that both slopes, run together, meet `halfway` in the middle and 1 at the end.
        slope = (2.0 * v.halfway - BLEND) / (1.0 - BLEND)
        return {"first_slope": slope, "second_slope": 2.0 - slope}

    def equations(self, t: Terms) -> None:
        position = clipped(t.p.position, 0.0, 1.0, STOP)
        share, steepness = _law(t, position)
        below = share * (1.0 + 4.0 * t.p.conformity * (1.0 - share))
        lower = t.p.end_resistance + t.p.resistance * below
        upper = t.p.end_resistance + t.p.resistance * (1.0 - below)
        first, second = t.v("one") - t.v("wiper"), t.v("wiper") - t.v("two")
        tapped = 1.0 / (1.0 + t.p.contact_resistance * (1.0 / lower + 1.0 / upper))
        to_one, to_two = tapped / lower, tapped / upper
        past = t.p.contact_resistance * to_one / upper
        for start, end, conductance in (
            ("one", "wiper", to_one),
            ("wiper", "two", to_two),
            ("one", "two", past),
        ):
            t.through(start, end, (t.v(start) - t.v(end)) * conductance)
            t.noise(start, end, thermal_noise(t.ambient, conductance))
        whole = first + second
        into, out = first * to_one + whole * past, second * to_two + whole * past
        t.observe("power", first * into + second * out)
        t.observe("track_power", maximum(into * into, out * out) * t.p.resistance)
        t.observe("voltage", whole)
        t.observe("wiper_current", into - out)
        t.observe("position", position)
        t.observe("step", t.p.resolution * t.p.resistance * steepness)


def _law(t: Terms, position: Number) -> tuple[Number, Number]:
    """Share of the track below a position, and how steeply it rises there."""
    if t.option("taper") == "linear":
        return position, 1.0
    bend = t.p.second_slope - t.p.first_slope
    beyond = position - 0.5
    near = minimum(maximum(beyond, -BLEND), BLEND) + BLEND
    ramp = near * near / (4.0 * BLEND) + maximum(beyond - BLEND, 0.0)
    return t.p.first_slope * position + bend * ramp, t.p.first_slope + bend * near / (2.0 * BLEND)
