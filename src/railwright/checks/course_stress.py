"""Stress in time: what parts see while the input goes away, and in a short circuit."""

from __future__ import annotations

from collections.abc import Sequence

from railwright.checks.transients import CourseStress
from railwright.surveys.courses import CourseView, Record
from railwright.surveys.input_changes import INPUT_CHANGES
from railwright.surveys.short_circuit import SHORT_CIRCUIT


class PowerDownStress(CourseStress):
    """Voltages while the input goes away: what is stored behind a part is left to feed it back."""

    id = "stress.power-down"
    question = "Does every part survive when the input goes away while its output is charged?"
    analysis = (
        "The input sags within 100 ms or goes away within 1 ms, with the least and the most "
        "capacitance that a light load may have. Margin = whole rating - highest voltage at the "
        "part meanwhile. Asked of parts that see more then than in use. Reserve = margin / rating."
    )
    example = (
        "470 µF at 12 V behind a pass transistor whose base falls with the input put `12 V - 0.7 "
        "V = 11.3 V` across its base and emitter the wrong way round; 5 V are allowed: `5 V - "
        "11.3 V = -6.3 V`. A diode from output to input takes it."
    )
    situation = INPUT_CHANGES

    def looked_at(self, view: CourseView) -> Sequence[Record]:
        return [view.records[INPUT_CHANGES.sag], view.records[INPUT_CHANGES.away]]


class ShortCircuitStress(CourseStress):
    """Voltages while a rail is shorted, and when the short is taken away."""

    id = "stress.short-circuit"
    question = "Does every part survive the voltages of a short circuit, and of its end?"
    analysis = (
        "Margin = whole rating - highest voltage at the part in the course in time of a short of "
        "10 mΩ at full load and after it. Asked of parts that see more then than in use. What "
        "pulses of current do to parts is not asked. Reserve = margin / rating."
    )
    example = (
        "A regulator with 20 V at its input and 12 V at its output sees `20 V - 12 V = 8 V`; "
        "shorted it sees 20 V, and where 15 V are allowed across it `15 V - 20 V = -5 V` are left."
    )
    situation = SHORT_CIRCUIT
