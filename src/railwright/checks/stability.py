"""Stability: every disturbance must die away, and every loop keep its distance from swinging."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import cast

import numpy as np

from railwright.checks.check import Check, Worst, at_least, at_most
from railwright.engine.loop import loop
from railwright.engine.poles import taking_part
from railwright.engine.response import output_impedance
from railwright.quantity import show
from railwright.surveys.curves import Axis, Curves, Level, Line
from railwright.surveys.cycles import clocks
from railwright.surveys.extremes import Answer
from railwright.surveys.situations import View
from railwright.surveys.small_signals import SMALL_SIGNALS, SmallSignalView, known_loops, stores
from railwright.surveys.survey import Survey

WHOLE = 180.0
"""° that count as a reserve of 100 %: the usual 45° are a quarter."""
WELL_DAMPED = 0.9
"""Damping from which on nothing is called ringing, and samples alone look at the spread."""
TAKES_PART, MOST_TOLD = 0.1, 3
"""Share of a mode that a part must have to be told, and how many are."""
LEAST_POWER = 1e-3
"""W; a regulator that delivers less is no load of what feeds it."""
DIES = 0.01
"""Damping below which a disturbance rings for so long that a little more would keep it going."""


SHOWN = np.geomspace(1e-3, 1e2, 151)
"""Shares of the crossing at which a report shows a loop."""


class _SmallSignalCheck(Check):
    """A question about small disturbances."""

    situation = SMALL_SIGNALS

    def answer(self, view: View, subject: str) -> Answer:
        return self.answered(cast(SmallSignalView, view), subject)

    def answered(self, view: SmallSignalView, subject: str) -> Answer:
        """Margin, value and limit over lanes."""
        raise NotImplementedError(type(self).__name__)


class Decays(_SmallSignalCheck):
    """Real part over size of every pole of the whole circuit, source and loads included.

    It is the damping ratio with its sign turned round. A converter in front of an undamped input
    filter, a hidden loop within a loop, a load that a loop does not stand: all of them show here.
    """

    id = "stability.poles"
    question = "Does every small disturbance die away, with the source and the loads that may come?"
    source = "poles of the linearised circuit; any textbook of control (from memory)"
    analysis = (
        "All poles s of the circuit linearised about its operating points, source, cable and loads "
        "included, with the least and the greatest capacitance that the loads may have and decades "
        "between. Margin = damping ratio -Re(s) / |s| of the pole that decays least; below nil a "
        "disturbance grows. At the corners of the range. Reserve = margin; 1 % is wanted."
    )
    example = (
        "A filter of 10 µH and 3 µF ahead of a regulator: it rings at `1 / (2 × pi × "
        "sqrt(10 µH × 3 µF)) = 29.1 kHz`; with 50 mΩ in series its damping ratio is "
        "`50 mΩ / 2 × sqrt(3 µF / 10 µH) = 0.0137`."
    )
    unit = "1"

    def subjects(self, survey: Survey) -> Sequence[str]:
        return (
            list(survey.fixture.rails)[:1]
            if SMALL_SIGNALS.unready(survey) or survey.once(stores)
            else []
        )

    def answered(self, view: SmallSignalView, subject: str) -> Answer:
        return replace(at_most(view.growth, 0.0, asked=view.works), ample=WELL_DAMPED)

    def scale(self, survey: Survey, subject: str, worst: Worst) -> float:
        return 1.0

    def wanted(self, survey: Survey) -> float:
        return DIES

    def because(self, survey: Survey, subject: str, worst: Worst) -> str:
        rings = _ringing(survey, cast(SmallSignalView, worst.view)) if worst.view else " rings"
        if worst.margin < 0:
            return f"A small disturbance grows instead of dying away: it{rings} ({worst.place})."
        if worst.value <= -WELL_DAMPED:
            return f"Every disturbance dies away without ringing ({worst.place})."
        return (
            f"Every disturbance dies away; the one that lasts longest{rings}, with a damping "
            f"ratio of {show(-worst.value, '1')} ({worst.place})."
        )


def _ringing(survey: Survey, view: SmallSignalView) -> str:
    """How fast the pole that decays least rings in a single lane, and where, in words."""
    if view.linear is None or not view.solved.all():
        return " rings"
    known = {part.ref for part in survey.fixture.circuit.parts}
    shares = taking_part(view.linear, view.slowest)
    ranked = sorted(shares, key=lambda owner: -shares[owner][0])
    where = [ref for ref in ranked if ref in known and shares[ref][0] > TAKES_PART][:MOST_TOLD]
    told = f", mostly in {', '.join(where)}" if where else ""
    told += "".join(
        _at_its_input(survey, view, ref, where) for ref in clocks(survey.fixture.circuit)
    )
    return f" rings at {show(float(view.ringing[0]), 'Hz')}{told}"


def _at_its_input(survey: Survey, view: SmallSignalView, ref: str, where: Sequence[str]) -> str:
    """A switching regulator against what feeds it, in words, where that is what rings.

    What it takes falls as its input rises: -V²/P (Middlebrook 1976). Losses are left out.
    """
    circuit = survey.fixture.circuit
    pins = circuit.part(ref).pins
    inlet, ground = pins.get("input"), pins.get("ground", survey.fixture.ground)
    if "feedback" not in pins:  # what holds no output takes more as its input rises
        return ""
    rings = any(inlet in circuit.part(each).pins.values() for each in where if each != ref)
    if inlet is None or not rings or view.linear is None:
        return ""
    volts = view.at.potential(inlet) - view.at.potential(ground)
    watts = sum(view.output(rail) * amperes for rail, amperes in view.points.loads.items())
    if not np.all(watts > LEAST_POWER):
        return ""
    ohms = float((volts**2 / watts)[0])
    there = output_impedance(view.linear, inlet, ground, view.ringing)
    seen = 1.0 / (1.0 / complex(there.value[0, 0]) + 1.0 / ohms)
    return f" ({ref} is there like {show(-ohms, 'Ω')}, what feeds it like {show(abs(seen), 'Ω')})"


class PhaseMargin(_SmallSignalCheck):
    """The angle that a loop's gain keeps from -1 where its size passes 1; poles decide first."""

    id = "stability.phase-margin"
    question = "Does every loop whose parts are published keep enough phase margin?"
    source = "return ratio (Bode; Middlebrook); 45° is common practice"
    analysis = (
        "Return ratio T of each loop, all others closed: the distance of its angle from 180° where "
        "|T| passes 1, the smallest where it does so more than once. Loops that run through what "
        "a datasheet does not publish are told by its window of capacitors and coils instead. "
        "Margin = that angle, below nil where a pole grows. Reserve = margin / 180°; "
        "need.parts.phase_reserve (45° unless said) is wanted."
    )
    example = (
        "A follower of 1 MHz with 100 Ω of output resistance on 100 nF: the lag begins at "
        "`1 / (2 × pi × 100 Ω × 100 nF) = 15.9 kHz`, |T| passes 1 at about "
        "`sqrt(1 MHz × 15.9 kHz) = 126 kHz`, and `atan(15.9 kHz / 126 kHz) × 180 / pi = 7.2` "
        "degrees are left."
    )
    unit = "°"

    def subjects(self, survey: Survey) -> Sequence[str]:
        if SMALL_SIGNALS.unready(survey):
            return []
        return sorted({ref for ref, _ in survey.once(known_loops)})

    def answered(self, view: SmallSignalView, subject: str) -> Answer:
        own = [np.abs(m.phase) for (ref, _), m in view.margins.items() if ref == subject]
        least = np.min(own, axis=0)
        signed = np.where(view.growth < 0, least, -least)
        return at_least(signed, 0.0, asked=np.isfinite(least) & view.works)

    def scale(self, survey: Survey, subject: str, worst: Worst) -> float:
        return WHOLE

    def wanted(self, survey: Survey) -> float:
        return survey.fixture.design.need.parts.phase_reserve / WHOLE

    def because(self, survey: Survey, subject: str, worst: Worst) -> str:
        left = f"{worst.value:.0f}°"
        crossing = ""
        if worst.view is not None:
            several = cast(SmallSignalView, worst.view).margins
            own = [m for (ref, _), m in several.items() if ref == subject]
            lowest = min(own, key=lambda m: abs(float(m.phase[0])))
            crossing = f" at {show(float(lowest.crossing[0]), 'Hz')}"
        if worst.margin < 0:
            return (
                f"A disturbance grows, and the loop through {subject} passes a gain of 1"
                f"{crossing} with a phase margin of {left} ({worst.place})."
            )
        wanted = f"{survey.fixture.design.need.parts.phase_reserve:.0f}°"
        return (
            f"The loop through {subject} passes a gain of 1{crossing} with a phase margin of "
            f"{left}; {wanted} are wanted ({worst.place})."
        )

    def curves(self, view: View, subject: str) -> Sequence[Curves]:
        small = cast(SmallSignalView, view)
        own = {name: m for name, m in small.margins.items() if name[0] == subject}
        name = min(own, key=lambda each: abs(float(own[each].phase[0])))
        (crossing,) = own[name].crossing
        if small.linear is None or np.isnan(crossing):
            return ()
        frequency = crossing * SHOWN
        (ratio,) = loop(small.linear, *name, frequency).ratio
        return of_loop(f"Loop through {subject}, at its worst place", frequency, ratio)


def of_loop(title: str, frequency: np.ndarray, ratio: np.ndarray) -> tuple[Curves, Curves]:
    """Gain and phase of a loop; ratio: its return ratio at each frequency [Hz]."""
    across = Axis("frequency", "Hz", logarithmic=True)
    gain = Line("", frequency, 20.0 * np.log10(np.abs(ratio)))
    # What is left to -1, drawn without the leap where the angle goes round.
    left = np.degrees(np.unwrap(np.angle(-ratio)))
    left -= 360.0 * np.round(left[np.argmin(np.abs(gain.up))] / 360.0)
    return (
        Curves(title, across, Axis("gain", "dB"), [gain], [Level("passes 1 at", 0.0)]),
        Curves(
            title,
            across,
            Axis("angle left to -180°", "°"),
            [Line("", frequency, left)],
            [Level("none left", 0.0)],
            below=True,
        ),
    )
