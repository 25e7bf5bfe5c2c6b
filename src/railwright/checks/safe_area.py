"""Safe area: what transistors stand of voltage and current at once, lasting and for a moment."""

from __future__ import annotations

from collections.abc import Sequence
from typing import cast

import numpy as np
from numpy.typing import NDArray

from railwright.checks.check import Check, Worst, at_most, unknown
from railwright.checks.in_time import InTimeCheck
from railwright.checks.life import promised
from railwright.checks.pulses import felt
from railwright.checks.stress import policy_of
from railwright.circuit.circuit import Part
from railwright.devices.derated import usable
from railwright.quantity import ZERO_CELSIUS, show
from railwright.surveys.courses import POWER_UP, CourseView, Record, transistors
from railwright.surveys.extremes import Answer
from railwright.surveys.short_circuit import SHORT_CIRCUIT
from railwright.surveys.situations import AS_SET, View
from railwright.surveys.survey import Survey

Array = NDArray[np.float64]
VOLTAGE, AT_RATED = "second_breakdown_voltage", "second_breakdown_current"
RATED_VOLTAGE, POWER, HOTTEST = "collector_emitter_voltage", "rated_power", "junction_limit"
POWERFUL = 1.0
"""W; a type for less is limited by its warmth alone (common practice, no source)."""
UNTOLD = 0.1
"""Of its rated power, above half of its rated voltage: below, no type is near second breakdown
(common practice, no source)."""
COLD = 25.0 + ZERO_CELSIUS
"""K; the case at which powers are rated."""
THROUGH = {"collector": 50e-3, "drain": 10e-3}
"""s; in which heat is through a die, by what ends at its case: typical transient curves of TO-220
types, from memory. Dies with insulated gates are thinner."""
ADDS = 0.05
"""Of its safe area; what takes a transistor no further needs no question."""


class SafeArea(Check):
    """Above some voltage a bipolar transistor's current contracts to a spot before it is too warm.

    The bound on the current falls as a power of the voltage from the rated power at that voltage to
    the current that the type stands at its rated one.
    """

    id = "stress.safe-area"
    question = "Is every power transistor clear of second breakdown?"
    source = "safe area of the part's type; derating policy of need.parts.derating"
    analysis = (
        "Asked where the voltage V across a transistor is above that at which second breakdown "
        "takes over, V2. Margin = I2 × ratio - current. I2 = P / V × (V / V2)^-m, with the rated "
        "power P, and m so that it is the type's current at its rated voltage. Ratio = the "
        "derating policy's for powers × what the warmth of the case leaves, (hottest junction - "
        "case) / (hottest junction - 25 °C). Reserve = margin / limit."
    )
    example = (
        "A type of 115 W stands `115 W / 40 V = 2.88 A` at 40 V and 0.9 A at 60 V, where its power "
        "alone would allow `115 W / 60 V = 1.92 A`: 1.2 A at 60 V are `0.9 A - 1.2 A = -0.3 A` "
        "beyond, on a cold case and without a policy."
    )
    unit = "A"
    situation = AS_SET
    says = "{subject} carries {value}; {limit} is safe at its voltage ({place})."

    def subjects(self, survey: Survey) -> Sequence[str]:
        parts = survey.fixture.circuit.parts
        return [p.ref for p in parts if promised(p, VOLTAGE) > 0 or _near(survey, p)]

    def missing(self, survey: Survey, subject: str) -> str:
        part = survey.fixture.circuit.part(subject)
        lacking = [name for name in (VOLTAGE, AT_RATED) if promised(part, name) <= 0]
        return unknown(subject, [*lacking, *_unrated(part)])

    def answer(self, view: View, subject: str) -> Answer:
        part = view.survey.fixture.circuit.part(subject)
        volts, amperes = (np.abs(view.at.of(subject, name)) for name in ("voltage", "current"))
        hottest = part.ratings[HOTTEST]
        case = view.at.of(subject, "junction") - _resistance(view, subject) * volts * amperes
        ratio = np.clip((hottest - case) / (hottest - COLD), 0.0, 1.0)
        policy, rated = policy_of(view.survey), part.ratings[POWER]
        by_policy = usable(policy, part.device, part.options, POWER, rated, view.points.ambient)
        ratio = ratio if by_policy is None else ratio * by_policy
        return at_most(amperes, ratio * safe_current(part, volts), volts > promised(part, VOLTAGE))


def safe_current(part: Part, volts: Array) -> Array:
    """The lasting current of a transistor that its warmth and second breakdown allow [A].

    The case at 25 °C. A type that states nothing of second breakdown is bounded by its power.
    """
    most, begins = part.ratings[POWER] / np.maximum(volts, 1e-3), promised(part, VOLTAGE)
    if begins <= 0:
        return most
    ends = part.ratings[RATED_VOLTAGE]
    falls = np.log(part.ratings[POWER] / (ends * promised(part, AT_RATED))) / np.log(ends / begins)
    beyond: Array = most * np.maximum(volts / begins, 1.0) ** -max(float(falls), 0.0)
    return beyond


def _unrated(part: Part) -> list[str]:
    return [name for name in (RATED_VOLTAGE, POWER, HOTTEST) if name not in part.ratings]


def _near(survey: Survey, part: Part) -> bool:
    """Whether a power transistor that states nothing may be near second breakdown."""
    if VOLTAGE not in part.device.values or part.ratings.get(POWER, np.inf) < POWERFUL:
        return False
    at = survey.once(AS_SET.typical).at
    volts, power = np.abs(at.of(part.ref, "voltage")), at.of(part.ref, "power")
    high = volts > 0.5 * part.ratings.get(RATED_VOLTAGE, np.inf)
    return bool(np.any(high & (power > UNTOLD * part.ratings.get(POWER, np.inf))))


def _resistance(view: View, ref: str) -> Array | float:
    return view.value(ref, "junction_to_case")


class _Pulses(InTimeCheck):
    """A question about the transistors that a course takes through more than they do in use.

    Once heat is through a die the resistance to the case holds.
    """

    source = (
        "resistance to the case and hottest junction of the part's type, safe area where it states "
        "one; heat in a slab (Carslaw and Jaeger), typical time for a die from memory"
    )
    unit = "1"
    happens = ""
    """What takes them there, for the reason."""

    def subjects(self, survey: Survey) -> Sequence[str]:
        if not self.situation.applies(survey) or self.situation.unready(survey):
            return []
        view = cast(CourseView, survey.once(self.situation.typical))
        told = self.tells(view)
        return [
            part.ref
            for part in transistors(survey)
            if not told or _unrated_pulse(part) or self._share(view, part.ref).max() > ADDS
        ]

    def lacking(self, survey: Survey, subject: str) -> Sequence[str]:
        return _unrated_pulse(survey.fixture.circuit.part(subject))

    def answered(self, view: CourseView, subject: str) -> Answer:
        return at_most(self._share(view, subject), 1.0)

    def because(self, survey: Survey, subject: str, worst: Worst) -> str:
        view = cast(CourseView, worst.view)
        hottest = max(float(_junction(view, r, subject).max()) for r in view.records)
        allowed = survey.fixture.circuit.part(subject).ratings[HOTTEST]
        return (
            f"{self.happens} {subject} uses {show(worst.value, '1')} of what it stands for a "
            f"moment: its junction gets to {show(hottest, '°C')} of {show(allowed, '°C')} "
            f"({worst.place})."
        )

    def _share(self, view: CourseView, ref: str) -> Array:
        """The greatest share of its safe area that a transistor uses, over lanes."""
        part, shares = view.survey.fixture.circuit.part(ref), []
        before = view.at.of(ref, "junction")[:, None]
        for record in view.records:
            rise = _junction(view, record, ref) - before
            shares.append(rise / np.maximum(part.ratings[HOTTEST] - before, 1e-3))
            if promised(part, VOLTAGE) > 0:
                volts = np.abs(record.rows[ref, "voltage"])
                held = np.abs(view.at.of(ref, "power"))[:, None]
                like = rise / np.reshape(_resistance(view, ref), (-1, 1)) + held
                share = like / (volts * safe_current(part, volts))
                shares.append(np.where(volts > promised(part, VOLTAGE), share, 0.0))
        greatest: Array = np.max([share.max(axis=1) for share in shares], axis=0)
        return greatest


def _junction(view: CourseView, record: Record, ref: str) -> Array:
    """The junction of a transistor in a course (lane, instant) [K], its case as warm as before."""
    power = np.abs(record.rows[ref, "voltage"] * record.rows[ref, "current"])
    like = felt(record.times, power - power[:, :1], _through(view, ref))
    before = view.at.of(ref, "junction")[:, None]
    found: Array = before + np.reshape(_resistance(view, ref), (-1, 1)) * like
    return found


def _through(view: View, ref: str) -> float:
    pins = view.survey.fixture.circuit.part(ref).device.pins.values()
    return next(THROUGH[pin.role] for pin in pins if pin.role in THROUGH)


def _unrated_pulse(part: Part) -> list[str]:
    second = (POWER, RATED_VOLTAGE) if promised(part, VOLTAGE) > 0 else ()
    return [name for name in (HOTTEST, *second) if name not in part.ratings]


class ShortCircuitPulse(_Pulses):
    """Voltage and current together, while a rail is shorted and when the short is taken away."""

    id = "stress.short-circuit-pulse"
    question = "Do the transistors survive the pulse of heat of a short circuit?"
    analysis = (
        "Value = greatest share that a transistor uses of its rise up to the hottest junction, and "
        "above its second breakdown voltage of the power that is safe there, in the course in time "
        "of a short of 10 mΩ at full load and after it. Rise = resistance to the case × power, "
        "each step of which counts with sqrt(t / 50 ms), 10 ms for an insulated gate, at most 1; "
        "the case stays as warm as in use. Margin = 1 - value; reserve = margin."
    )
    example = (
        "24 V and 5 A for 1 ms, until the limit acts, heat a junction with 1.5 K/W to its case by "
        "`24 V × 5 A × 1.5 × sqrt(1 ms / 50 ms) = 25.5` K; from 100 °C in use that is `25.5 / "
        "(150 - 100) = 0.51` of the rise up to 150 °C."
    )
    situation = SHORT_CIRCUIT
    happens = "In a short circuit"


class PowerUpPulse(_Pulses):
    """Voltage and current together, while capacitors behind a transistor are charged."""

    id = "stress.power-up-pulse"
    question = "Do the transistors survive the pulse of heat while the supply comes up?"
    analysis = (
        "Value = greatest share that a transistor uses of its rise up to the hottest junction, and "
        "above its second breakdown voltage of the power that is safe there, while the supply "
        "comes up from nothing stored, fast, slowly and by its button. Rise as in "
        "stress.short-circuit-pulse, on top of a case as warm as in use. Margin = 1 - value; "
        "reserve = margin."
    )
    example = (
        "470 µF charged to 12 V in 2 ms take `470 µF × 12 V / 2 ms = 2.82 A`; at a mean of 10 V a "
        "junction with 3 K/W rises by about `10 V × 2.82 A × 3 × sqrt(2 ms / 50 ms) = 16.9` K."
    )
    situation = POWER_UP
    happens = "While the supply comes up"
