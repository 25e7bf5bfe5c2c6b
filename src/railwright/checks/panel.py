"""Panel: whether a circuit has the meter and the switch that the need asks for."""

from __future__ import annotations

from collections.abc import Iterator

from railwright.checks.check import WiringAnswer, WiringCheck, WiringFault
from railwright.checks.meter import MeterCurrent, MeterVoltage
from railwright.surveys.output_switch import switching_contacts
from railwright.surveys.survey import Survey


class Panel(WiringCheck):
    """Whether they are there; how well a meter measures, and how the output comes up when it is
    switched on, have questions of their own.
    """

    id = "wiring.panel"
    question = "Does every output have the meter and the switch that the need asks for?"
    source = "need.output.panel"
    analysis = (
        "A meter must measure within 1 Ω of a terminal of the output; one for the current must "
        "have its shunt there, too. A contact must leave no more than a tenth of the output's "
        "setting when it is operated, half way in the range and with typical parts."
    )
    example = (
        "A need asks for a switch, and the only contact is in the lead of an auxiliary rail: with "
        "it operated 12 V stay 12 V, more than `0.1 × 12 V = 1.2 V`. It falls short."
    )
    good = "Every output has the meter and the switch that the need asks for."
    order = 17

    def look(self, survey: Survey) -> WiringAnswer:
        rails = survey.fixture.rails.items()
        asked = [rail for rail, output in rails if output.panel.meter or output.panel.switch]
        return WiringAnswer(asked, [fault for rail in asked for fault in _missing(survey, rail)])


def _missing(survey: Survey, rail: str) -> Iterator[WiringFault]:
    panel = survey.fixture.rails[rail].panel
    wanted = {None: (), "voltage": (MeterVoltage,)}
    for check in wanted.get(panel.meter, (MeterVoltage, MeterCurrent)):
        question = check()
        if not any(question.rail(survey, ref) == rail for ref in question.subjects(survey)):
            text = f"no meter shows the {question.quantity} of {rail}, which the need asks for."
            yield WiringFault(rail, text)
    if panel.switch and not any(
        rail in rails for rails in survey.once(switching_contacts).values()
    ):
        yield WiringFault(rail, f"no contact takes {rail} off, which the need asks for.")
