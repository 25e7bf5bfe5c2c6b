"""Start: the state that a slow rise of the input leads to, where there are several."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from railwright.checks.check import WiringAnswer, WiringCheck, WiringFault
from railwright.engine.model import Name
from railwright.engine.solutions import OperatingPoints
from railwright.engine.two_state import two_state_parts
from railwright.quantity import show
from railwright.surveys.depth import DEFAULT
from railwright.surveys.positions import placed
from railwright.surveys.samples import quasi_random
from railwright.surveys.situations import AS_SET, knobs
from railwright.surveys.states import followed, level
from railwright.surveys.survey import Survey
from railwright.surveys.trips import latch_gates

STEPS = 24
"""Voltages of the rising input at which the state is followed."""
SAMPLES = 4
"""Drawn from the whole spread, beside typical parts with every offset low and high."""
DOWN = 0.5
"""A rail is down below this share of what it has in the working state."""


class StartState(WiringCheck):
    """Follow the state from nothing upward, and compare it with the working state.

    A state is kept as long as it exists; where the working one is another, the supply has two
    lasting states and comes up in the wrong one. Offsets of inputs are looked at to either side.
    """

    id = "wiring.start-state"
    question = "Does a slow rise of the input lead to the state in which the supply works?"
    source = "continuation of the operating point along the input; common practice, no source"
    analysis = (
        "The state is followed along a slow rise of the input from nothing in 24 steps, with "
        "typical parts, with all offsets low, all high, and 4 samples; it is kept as long as it "
        "exists, and left for the one in which the fewest latches, comparators and relays turn "
        "over. What switches with the setting is looked at in both its positions, as far as each "
        "can be on. Where it ends with a rail below half of what it has in the working state, the "
        "supply has two states and takes the wrong one."
    )
    example = (
        "A regulator whose reference is fed from its own output rests at 0 V as well as at 5 V: a "
        "slow rise leads to the first, and a start-up resistor is missing."
    )
    good = "On a slow rise of the input the supply comes up in its working state."
    order = 11
    since = DEFAULT

    def look(self, survey: Survey) -> WiringAnswer:
        deciding = _deciding(survey)
        if not deciding or _left_to_the_latch(survey):
            return WiringAnswer([], [])
        rails = list(survey.fixture.rails)
        working, risen = _working_and_risen(survey)
        faults = []
        for rail in rails:
            works, starts = (survey.rail_voltage(at, rail) for at in (working, risen))
            if not (working.solved & risen.solved).all():
                text = f"The rise of {rail} could not be followed to its end."
                faults.append(WiringFault(rail, text, proven=False))
                continue
            lost = works - starts
            worst = int(np.argmax(np.abs(lost)))
            if np.abs(starts[worst]) < DOWN * np.abs(works[worst]):
                held = _differing(deciding, working, risen, worst)
                text = (
                    f"{rail} can rest at {show(float(starts[worst]), 'V')} as well as at "
                    f"{show(float(works[worst]), 'V')}, and a slow rise of the input leads to the "
                    f"lower one, in which {', '.join(held)} can stay."
                )
                faults.append(WiringFault(rail, text, [(ref, "state") for ref in held]))
        return WiringAnswer(rails, faults)


def _deciding(survey: Survey) -> list[str]:
    """Refs of the parts by which a circuit can have several states: amplifiers, two-state parts."""
    turning = set(two_state_parts(survey.model))
    return [
        part.ref
        for part in survey.fixture.circuit.parts
        if part.ref in turning or "demanded_output" in part.device.observes
    ]


def _differing(
    deciding: list[str], working: OperatingPoints, risen: OperatingPoints, lane: int
) -> list[str]:
    """The parts whose own state is another: two-state parts if any, else all that decide."""
    turning = set(two_state_parts(working.model)) & set(deciding)
    turned = [r for r in turning if abs(level(working, r) - level(risen, r))[lane] > 0.5]
    return turned or deciding


def _left_to_the_latch(survey: Survey) -> bool:
    """Whether `overload.power-up` looks at this, or the supply is to come up off."""
    wanted = {
        output.overload.at_power_up
        for output in survey.fixture.rails.values()
        if output.overload is not None
    }
    return "off" in wanted or ("on" in wanted and bool(latch_gates(survey)))


def _samples(survey: Survey) -> np.ndarray:
    """Quantities (quantity, sample): typical, offsets all low, all high, and drawn ones."""
    spread = survey.spread
    offset = np.array([all(name == "offset" for _, name in q.moves) for q in spread.quantities])
    low, high = (
        np.where(offset, end, spread.typical)[:, None] for end in (spread.low, spread.high)
    )
    drawn = spread.draw(quasi_random(spread.size, SAMPLES, 1))
    return np.concatenate([survey.typical(1), low, high, drawn], axis=1)


def _working_and_risen(survey: Survey) -> tuple[OperatingPoints, OperatingPoints]:
    """The working state of every sample, and the state in which a slow rise ends.

    In the middle of the range, and where positions end that depend on a setting.
    """
    actual = _samples(survey)
    count = actual.shape[1]
    where = placed(survey, survey.range.middle())
    points = where.take(np.repeat(np.arange(where.count), count))
    actual, count = np.tile(actual, where.count), points.count
    working = AS_SET.view(survey, points, actual, None).at
    turned = knobs(survey, working)
    at: OperatingPoints | None = None
    for share in np.linspace(0.0, 1.0, STEPS + 1)[1:]:
        lanes: dict[Name, np.ndarray | float] = {
            **survey.lanes(replace(points, input=share * points.input), actual),
            **turned,
        }
        if at is None:
            at = survey.solve(lanes, count)
        else:
            at = followed(survey.engine, lanes, count, at, survey.alive)
    assert at is not None
    return working, at
