"""Switch and meter on the panel: where they stand, and what the supply inside is asked."""

from __future__ import annotations

import pytest

from railwright.architectures.architecture import Refusal, Unserved
from railwright.architectures.fixed_linear import FixedLinear
from railwright.architectures.guarded import guarded
from railwright.architectures.guards.in_the_way import behind
from railwright.architectures.guards.output_switch import OutputSwitch
from railwright.architectures.guards.panel_meter import PanelMeter
from railwright.prove.run import prove
from railwright.surveys.depth import QUICK
from tests.architectures.needs import ASKED, plain, read_sketch, task_of


def need(panel: str) -> str:
    """12 V from 20 to 24 V with something on its panel."""
    return plain(
        {
            '"17 V", nominal = "18 V", max = "19 V"': '"20 V", nominal = "22 V", max = "24 V"',
            '"10 %"': f'"8 %"\npanel = {{ {panel} }}',
        }
    )


BOTH = need('meter = "voltage and current", switch = true')


def refused(text: str) -> str:
    offer = guarded(FixedLinear(), task_of(text))
    assert isinstance(offer, Refusal)
    return offer.reason


def test_switch_and_meter_stand_at_the_terminals_and_hold() -> None:
    offer = guarded(FixedLinear(), task_of(BOTH))
    assert not isinstance(offer, Refusal), offer.reason
    design = read_sketch(BOTH, offer[0])
    meter, switch = design.circuit.part("M1"), design.circuit.part("S1")
    assert meter.pins == {"supply": "FUSED", "ground": "GND", "input": "OUT", "shunt": "OUT_MINUS"}
    assert switch.pins == {"one": "UNSWITCHED", "two": "OUT"}
    proof = prove(design, depth=QUICK, only=(*ASKED, "wiring"), suspecting=False)
    assert [f.id for f in proof.findings if f.verdict in ("falls short", "not proven")] == []
    assert {"output.meter-voltage", "output.meter-current", "wiring.panel"} <= {
        f.id for f in proof.findings
    }


def test_a_voltmeter_leaves_the_return_alone() -> None:
    text = need('meter = "voltage"')
    offer = guarded(FixedLinear(), task_of(text))
    assert not isinstance(offer, Refusal), offer.reason
    meter = read_sketch(text, offer[0]).circuit.part("M1")
    assert "shunt" not in meter.pins
    assert read_sketch(text, offer[0]).need.output[0].nets is not None
    assert meter.pins["ground"] == "GND"


def test_what_they_take_is_left_to_the_supply() -> None:
    """20 mΩ of contact and 13 mΩ of shunt at 0.3 A: 6 mV and 3.9 mV of 12 V."""
    task = task_of(BOTH)
    rail = task.need.output[0]
    behind_meter = PanelMeter("main").inside(task)
    assert behind_meter.need.output[0].accuracy == pytest.approx(0.08 - 3.9e-3 / 12.0)
    assert behind_meter.need.output[0].current.max == pytest.approx(0.33)
    behind_switch = OutputSwitch("main").inside(task)
    assert behind_switch.need.output[0].accuracy == pytest.approx(0.08 - 6e-3 / 12.0)
    with pytest.raises(Unserved, match="loses 3 V"):
        behind(rail, 10.0)


def test_what_is_not_in_the_catalogue_is_told() -> None:
    assert "no switch of the catalogue breaks 8 A" in refused(
        need("switch = true").replace('"0.3 A"', '"8 A"')
    )
    nets = 'name = "main"\nnets = { plus = "OUT", minus = "GND" }'
    text = BOTH.replace('name = "main"', nets)
    text = text.replace(
        'resistance = "100', 'nets = { plus = "IN", minus = "GND" }\nresistance = "100'
    )
    assert "a minus of its own" in refused(text)
    fed = BOTH.replace(
        '"20 V", nominal = "22 V", max = "24 V"', '"26 V", nominal = "27 V", max = "29 V"'
    )
    assert "its supply would see 29 V" in refused(fed.replace('"0.3 A"', '"0.1 A"'))
