"""What is joined to what: the list of nets, and a wire by wire list for point-to-point wiring."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

from railwright.circuit.circuit import Circuit, Part
from railwright.make.bill import value_of
from railwright.make.columns import csv_of
from railwright.make.document import Document, Job
from railwright.pages.sheet import Grid, Section, Sheet, Words

CONNECTIONS = ("net", "ref", "pin", "terminal", "part", "value", "block")
WIRES = ("done", "net", "from", "to")


@dataclass(frozen=True)
class End:
    """A pin of a part, on a net."""

    net: str
    part: Part
    pin: str

    @property
    def terminal(self) -> str:
        """What the pin is called on the package; empty where nobody says."""
        return self.part.terminals.get(self.pin) or self.part.order.get(self.pin, "")

    @property
    def told(self) -> str:
        """As one finds it with the part in hand."""
        marked = self.terminal
        named = self.pin if not marked or marked == self.pin else f"{self.pin} ({marked})"
        return f"{self.part.ref} {named}"


def ends(circuit: Circuit) -> Iterator[tuple[End, ...]]:
    """Per electrical net its ends, in the order of the design: along the way of the current."""
    for net, joined in circuit.nets.items():
        yield tuple(End(net, circuit.part(ref), pin) for ref, pin in joined)


def wires(circuit: Circuit) -> Iterator[tuple[End, End]]:
    """Wires that join every net: from end to end, so that no more than two meet at a pin."""
    for several in ends(circuit):
        yield from pairwise(several)


_MADE = "connections.csv and wires.csv have the same for other programs."
_TICK = (
    "No more than two wires meet at a pin. Which way a return goes matters: the layout guidance "
    "says where returns have to meet."
)


class Connections(Document):
    """Nets with their pins, and wires to be ticked off."""

    name = "Connection list"
    place = 40

    def sheet(self, job: Job) -> Sheet:
        circuit = job.design.circuit
        nets = [(e[0].net, ", ".join(end.told for end in e)) for e in ends(circuit)]
        ticked = [("", one.net, one.told, other.told) for one, other in wires(circuit)]
        sections = [
            Section(
                "Nets", [Grid(("net", "pins, with the terminal of the package"), nets, (0, 1))]
            ),
            Section(
                "Wires, point to point",
                [Words(_TICK), Grid(("done", "net", "from", "to"), ticked, (0, 1, 2, 2))],
            ),
        ]
        return Sheet(job.design.title, self.name, sections, _MADE)

    def files(self, job: Job) -> Mapping[str, bytes]:
        circuit = job.design.circuit
        return {
            "connections.csv": csv_of(CONNECTIONS, _rows(circuit)),
            "wires.csv": csv_of(WIRES, _wires(circuit)),
        }


def _rows(circuit: Circuit) -> Iterator[Sequence[str]]:
    for several in ends(circuit):
        for end in several:
            part = end.part
            named = part.use or part.kind
            yield end.net, part.ref, end.pin, end.terminal, named, value_of(part), part.block


def _wires(circuit: Circuit) -> Iterator[Sequence[str]]:
    for one, other in wires(circuit):
        yield "", one.net, one.told, other.told
