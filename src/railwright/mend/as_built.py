"""The design file of a supply as it was built: what readings tell of its parts, written into it.

A value that is told gets its own limits. Of values that are known in proportion alone each gets
limits that leave room for all, and they share one draw beside a small residue: so the file holds
no sample that the readings leave out by much, and every one that they leave.
"""

from __future__ import annotations

from railwright.circuit.design import Design
from railwright.circuit.writer import set_heading, set_table
from railwright.mend.learn import Learned, Tied, Value
from railwright.quantity import parse, show

DIGITS = 6
ROUNDED = 5e-6
"""Share by which a number of so many digits may have been rounded."""


def as_built(text: str, design: Design, learned: Learned) -> str:
    """The text of a design with the limits that readings leave; all else stays as it is.

    EditError where a value stands in the file in a way that cannot be edited.
    """
    tied = {ref for each in learned.tied for ref in each.refs}
    several = [value for value in learned.values if value.ref not in tied]
    for value in (*several, *(each for draw in learned.shifted for each in draw)):
        text = _limited(text, design, value, value.low, value.high)
    for each in learned.tied:
        text = _proportioned(text, design, each)
    count = len(learned.readings)
    return set_heading(
        text,
        [
            f"As built: limits of values were learned from {count} readings of one supply.",
            "It speaks for that supply alone.",
        ],
    )


def _limited(text: str, design: Design, value: Value, low: float, high: float) -> str:
    drift = design.circuit.part(value.ref).values[value.name].spread.drift
    least = show(low - ROUNDED * abs(low), value.unit, DIGITS)
    most = show(high + ROUNDED * abs(high), value.unit, DIGITS)
    likely = show(value.likely, value.unit, DIGITS)
    at = parse(likely, value.unit)
    if at < parse(least, value.unit):
        likely = least
    elif at > parse(most, value.unit):
        likely = most
    table = {"min": least, "typical": likely, "max": most}
    if drift > 0.0:
        table["drift"] = show(drift, "1/K", DIGITS)
    return set_table(text, value.ref, value.name, table)


def _proportioned(text: str, design: Design, tied: Tied) -> str:
    group = {"group": f"as built: {', '.join(tied.refs)}"}
    group["tolerance"] = show(tied.residue * (1.0 + ROUNDED), "1", DIGITS)
    for value in tied.values:
        low, high = value.likely * (1.0 + tied.low), value.likely * (1.0 + tied.high)
        text = _limited(text, design, value, low, high)
        text = set_table(text, value.ref, "tracks", group)
    return text
