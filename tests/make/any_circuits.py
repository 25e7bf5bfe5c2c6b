"""Random circuits of all kinds of parts, up to forty, for what is drawn of a circuit.

Every kind that is registered is drawn; pins are joined at random, mostly to nets nearby, and
ground pins mostly to 0 V. Nothing sensible comes of it: what counts is that it can be drawn.
"""

from __future__ import annotations

import random
from dataclasses import replace
from functools import cache
from pathlib import Path

from railwright.circuit.circuit import Circuit, Part
from railwright.circuit.design import Design, read
from railwright.devices import kinds
from railwright.devices.device import Device, Pin

MOST = 40
BLOCKS = ("", "input", "regulator", "trip", "output")
EXAMPLE = Path(__file__).parent.parent.parent / "examples" / "model-shop-knob.toml"


class Unheard(Device):
    """A kind that no symbol was ever drawn for. Without a name of its own, it is not registered."""

    pins = {"first": Pin("passive"), "second": Pin("passive"), "third_one": Pin("passive")}
    symbol = "of a kind that nobody knows"


@cache
def _example() -> Design:
    return read(EXAMPLE)


def design_of(circuit: Circuit, title: str = "Drawn at random") -> Design:
    """A design with a circuit; its need names nets that the circuit may lack."""
    return replace(_example(), title=title, circuit=circuit)


def drawn(seed: int) -> Circuit:
    """The circuit of a seed."""
    chance = random.Random(seed)
    known = {name: device for name, device in sorted(kinds().items()) if device.kind}
    count = chance.randint(2, MOST)
    blocks = BLOCKS[: chance.randint(1, len(BLOCKS))]
    nets, faces = ["BRICK"], ["SINK"]
    parts: list[Part] = []
    for number in range(count):
        name = chance.choice(sorted(known))
        if chance.random() < 0.6:  # most parts of a supply are these
            name = chance.choice(["resistor", "capacitor", "diode", "bipolar-transistor"])
        device = Unheard() if chance.random() < 0.03 else known[name]
        pins: dict[str, str] = {}
        for pin, seat in device.pins.items():
            if seat.optional and chance.random() < 0.5:
                continue
            if seat.role == "thermal":
                pins[pin] = _net(chance, faces, pins, "SINK")
            elif chance.random() < (0.9 if seat.role == "ground" else 0.15):
                pins[pin] = "GND"
            else:
                pins[pin] = _net(chance, nets, pins, "N")
        options = {option: chance.choice(words) for option, words in device.options.items()}
        block = blocks[number * len(blocks) // count]
        parts.append(
            Part(
                f"X{number}",
                device.kind or "unheard-of",
                device,
                pins,
                {},
                {},
                options,
                block=block,
            )
        )
    return Circuit(tuple(parts))


def _net(chance: random.Random, known: list[str], pins: dict[str, str], letter: str) -> str:
    """A new net, or one of the last few that the part is not on yet."""
    near = [net for net in known[-8:] if net not in pins.values()]
    if not near or chance.random() < 0.3:
        known.append(f"{letter}{len(known)}")
        return known[-1]
    return chance.choice(near)
