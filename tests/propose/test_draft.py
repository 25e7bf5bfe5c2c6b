"""A sketch becomes a design file in which the person's need stands as they wrote it."""

from __future__ import annotations

import pytest

from railwright.architectures.architecture import Sketch
from railwright.circuit.design import read_text
from railwright.propose.draft import drafted, with_nets
from tests.architectures.needs import EXAMPLES, PLAIN, plain

NETS = ("voltage", "resistance")


def named(text: str) -> str:
    return with_nets(text, read_text(text, "need"))


def test_nets_that_the_need_leaves_open_get_names() -> None:
    need = read_text(named(PLAIN), "need").need
    assert need.input.nets is not None
    assert (need.input.nets.plus, need.input.nets.minus) == ("IN", "GND")
    assert need.output[0].nets is not None
    assert (need.output[0].nets.plus, need.output[0].nets.minus) == ("OUT", "GND")


def test_nets_that_the_need_names_stay_and_the_output_returns_to_the_input() -> None:
    text = plain({'"100 mΩ"': '"100 mΩ"\nnets = { plus = "BUS", minus = "0V" }'})
    need = read_text(named(text), "need").need
    assert need.input.nets is not None
    assert need.input.nets.plus == "BUS"
    assert need.output[0].nets is not None
    assert need.output[0].nets.minus == "0V"


def test_several_rails_have_nets_of_their_own() -> None:
    start = PLAIN.index("[[need.output]]")
    rail = PLAIN[start : PLAIN.index("[need.surroundings]")]
    second = rail.replace('"main"', '"low noise"').replace("common with input", "floating")
    text = PLAIN[:start] + rail + second + PLAIN[PLAIN.index("[need.surroundings]") :]
    nets = [output.nets for output in read_text(named(text), "need").need.output]
    assert [(n.plus, n.minus) for n in nets if n] == [
        ("OUT_main", "GND"),
        ("OUT_low_noise", "OUT_low_noise_MINUS"),
    ]


@pytest.mark.parametrize("path", sorted(EXAMPLES.glob("*.toml")), ids=lambda path: path.stem)
def test_every_line_of_the_need_stays(path: object) -> None:
    text = (EXAMPLES / str(path)).read_text(encoding="utf-8")
    part = {"ref": "W1", "kind": "wire", "block": "output", "why": 'a "test"'}
    after = drafted(named(text), Sketch((part,), ({"part": "RV1"},)))
    lines = iter(after.splitlines())
    assert all(line in lines for line in text.splitlines())  # in their order
    assert after.endswith(
        '\n[[control]]\npart = "RV1"\n\n# Output\n\n[[part]]\nref = "W1"\nkind = "wire"\n'
        'block = "output"\nwhy = \'a "test"\'\n'
    ) or after.rstrip().endswith('why = "a \\"test\\""')
