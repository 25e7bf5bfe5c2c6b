"""Bridge rectifiers: what they carry, block and survive, and how warm that makes them."""

from __future__ import annotations

from railwright.architectures.architecture import Task, Unserved
from railwright.architectures.sizing.choice import Choice, of_kind, price_of, spread_of
from railwright.architectures.sizing.diodes import survived
from railwright.quantity import show
from railwright.standards.thermal import junction_temperature

DROPS = 2
"""Diodes that conduct at once."""


def bridge(task: Task, current: float, reverse: float, surge: float) -> Choice:
    """The cheapest bridge for a mean current [A], a reverse voltage [V] and a first pulse [A].

    Unserved where the catalogue has none.
    """
    ambient = task.need.surroundings.ambient.max
    for entry in sorted(of_kind(task.catalogue, "bridge-rectifier"), key=price_of):
        rated, volts = (
            spread_of(entry, name).high for name in ("forward_current", "reverse_voltage")
        )
        survives = survived(entry)
        loss = DROPS * spread_of(entry, "forward_voltage").high * current
        to_air = spread_of(entry, "junction_to_ambient").high
        junction = junction_temperature(ambient, loss, to_air)
        limit = task.hottest(entry)
        if (
            task.bears(entry, "forward_current") >= 0.5 * current
            and task.bears(entry, "reverse_voltage") >= reverse
            and surge <= task.kept * survives
            and junction <= limit
        ):
            return Choice(
                entry,
                f"{show(0.5 * current, 'A')} mean in each diode of {show(rated, 'A')}, "
                f"{show(reverse, 'V')} of {show(volts, 'V')} in reverse, at most "
                f"{show(surge, 'A')} of {show(survives, 'A')} at switch-on; "
                f"{show(junction, '°C')} of {show(limit, '°C')} in its junctions",
            )
    raise Unserved(
        f"no bridge of the catalogue carries {show(current, 'A')} and survives {show(surge, 'A')}"
    )
