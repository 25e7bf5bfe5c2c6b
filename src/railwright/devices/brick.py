"""Brick: a bought supply with its cable, which limits its current or tries again and again."""

from __future__ import annotations

from railwright.devices.arithmetic import clipped, where
from railwright.devices.device import Device, Number, Pin, Rating, Terms, Unknown, Value
from railwright.devices.source import give

FAR = 1e6  # s; when a brick switches that has no reason to
CORNER = 1e-3  # of the mean limit, as a share of it
RETURN = 1.05  # times the trip voltage: the output counts as good from here on


class Brick(Device):
    """A voltage behind the resistance and inductance of its cable, with a limit of its current.

    In its limit it is a current source, like `source`, and like that it cannot sink. Of the
    style `hiccup` it gives up where its output has been below the trip voltage for the on-time,
    rests for the off-time and tries again (the overload mode of data sheets of switching
    supplies; common practice, no source). Cycle by cycle this is followed. `equations` state
    the mean: below the trip voltage the limit falls in proportion to the output, to its share of
    the time and no further. So any resistance has one operating point: in the limit where the
    limit makes the trip voltage across it, else at the mean of all attempts. It is the
    surroundings, so it has no faults and no noise.
    """

    kind = "brick"
    pins = {"plus": Pin("power-output"), "minus": Pin("ground")}
    values = {
        "resistance": Value("Ω", "output resistance with the cable", least=1e-6),
        "current_limit": Value("A", "current limit", least=1e-4),
        "inductance": Value("H", "of its cable", default=0.0, least=0.0, dynamic=True),
        "trip_voltage": Value("V", "output voltage below which it gives up", least=0.1),
        "on_time": Value("s", "for which it tries", least=1e-6),
        "off_time": Value("s", "for which it rests", least=1e-6),
    }
    inputs = {"voltage": 0.0}
    holds = {
        "on": 1.0,
        "low": 0.0,  # the output was below the trip voltage, and not good since
        "due": FAR,  # s; when it switches
    }
    drives = ("voltage",)
    options = {"style": ("constant-current", "hiccup")}
    ratings = {"rated_current": Rating("A", "current")}
    unknowns = {"drive": Unknown("A")}
    switched_unknowns = {"drive": Unknown("A")}
    observes = {"current": "A", "voltage": "V", "power": "W"}
    conducts = (("plus", "minus"),)
    symbol = "source"
    surroundings = True

    def equations(self, t: Terms) -> None:
        given: Number = 1.0
        if t.option("style") == "hiccup":
            share = t.p.on_time / (t.p.on_time + t.p.off_time)
            given = clipped(_voltage(t) / t.p.trip_voltage, share, 1.0, CORNER)
        give(t, t.p.current_limit * given)

    def switched_equations(self, t: Terms) -> None:
        if t.option("style") == "constant-current":
            give(t, t.p.current_limit)
            return
        give(t, t.p.current_limit * t.p.on)
        voltage = _voltage(t)
        # While it rests, the output says nothing about whether it may try again.
        good_due = where(t.p.on - 0.5, FAR, t.p.due)
        t.event(voltage - RETURN * t.p.trip_voltage, low=0.0, due=good_due)
        low_due = where(t.p.low - 0.5, t.p.due, t.time + t.p.on_time)
        t.event(t.p.trip_voltage - voltage, low=1.0, due=low_due)
        last = where(t.p.on - 0.5, t.p.off_time, t.p.on_time)
        t.event(t.time - t.p.due, on=1.0 - t.p.on, due=t.time + last)


def _voltage(t: Terms) -> Number:
    return t.v("plus") - t.v("minus")
