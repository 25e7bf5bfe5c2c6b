"""The harness: wires between panel and board, with gauge, colour and how each one ends.

A wire is the thinnest that carries the current that the proof saw at its panel item, in a bundle
of all of them: insulation for 105 °C, derated as in MIL-STD-975M for vacuum at 70 °C, which is
warmer than a box; and of which a metre drops little. On the mains it is never thinner than a
standard asks.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

from railwright.make.columns import csv_of
from railwright.make.document import Document, Job, Unmakeable
from railwright.make.needed import currents
from railwright.make.panel.placed import INLET, SOCKET, Placed, panel_of
from railwright.pages.sheet import Block, Caution, Grid, Section, Sheet
from railwright.pages.wording import measurable
from railwright.quantity import show
from railwright.standards.panel_items import RECEPTACLE, RING
from railwright.standards.wire import area, resistance, vacuum_current
from railwright.standards.wire_colours import COLOURS, Carries, Colour

HEADING = (
    "wire",
    "net",
    "from",
    "ends in",
    "to",
    "ends there in",
    "current",
    "gauge",
    "cross-section",
    "drop of a metre",
    "colour",
    "code",
)
ON_PAGE = (*HEADING[:7], "thick", "drop of a metre", "colour")
GAUGES = (24, 22, 20, 18, 16, 14, 12, 10)
"""AWG, from the thinnest that a builder strips without nicking it (common practice, no source)."""
INSULATION = 105
"""°C, the usual equipment wire of PVC."""
MOST_IN_BUNDLE = 15
"""Wires from which on a bundle gets no hotter, as the standard counts."""
MOST_DROP = 50e-3
"""V of a metre (common practice, no source)."""
MAINS_GAUGE = 18
"""AWG at least on the mains: 0.75 mm², inner wires of appliances up to 6 A (IEC 60335-1, from
memory)."""
BOARD, PIN = "board", "solder pin 1.3 mm, sleeved"
"""Where most wires go, and how they end there (common practice, no source)."""
CRIMPED = (RING, RECEPTACLE)
"""Joints that are crimped on, in sizes by the wire."""
BANDS = ((16, "red, to 1.5 mm²"), (14, "blue, to 2.5 mm²"), (-10, "yellow, to 6 mm²"))
"""The thinnest wire's gauge from which on, and the colour of insulated crimps for it (common
practice after DIN 46237 and 46245, from memory)."""
EARTH = "PE"
"""Net of the protective conductor, which is joined to everything of metal that can be touched."""


@dataclass(frozen=True)
class End:
    """Where a wire begins at a panel item."""

    net: str
    item: Placed
    pin: str
    carries: Carries

    @property
    def told(self) -> str:
        """As one finds it."""
        return " ".join(filter(None, (self.item.label or self.item.item, self.pin)))


@dataclass(frozen=True)
class Wire:
    """One wire."""

    start: End
    to: str
    """The board's net, or another panel item."""
    far: str
    """How it ends there."""
    current: float | None
    """A; None where the proof saw none on that net at a panel item."""
    gauge: int

    @property
    def cross_section(self) -> float:
        """Of the copper [m²]."""
        return area(self.gauge)

    @property
    def drop(self) -> float | None:
        """Of a metre at that current [V]."""
        if self.current is None:
            return None
        return self.current * resistance(1.0, self.cross_section)

    @property
    def joints(self) -> tuple[str, str]:
        """How it ends at either side, with the size of what is crimped on."""
        return _sized(self.start.item.size.joint, self.gauge), _sized(self.far, self.gauge)

    @property
    def colour(self) -> Colour:
        """Of its insulation."""
        return COLOURS[self.start.carries]


def harness(job: Job) -> tuple[Wire, ...]:
    """Wires by panel item. Unmakeable where the panel is, or where no wire is thick enough."""
    return tuple(_Harness(job).wires())


class _Harness:
    def __init__(self, job: Job) -> None:
        self.design = job.design
        self.proof = job.proof
        self.seen = currents(job)
        self.items = panel_of(job.design).items
        self.labels = {item.label for item in self.items}

    def wires(self) -> Iterator[Wire]:
        together = min(len(self.ends), MOST_IN_BUNDLE)
        by_net: dict[str, list[End]] = {}
        for end in self.ends:
            by_net.setdefault(end.net, []).append(end)
        for net, several in by_net.items():
            currents = {end: self._current(end) for end in several}
            known = [current for current in currents.values() if current is not None]
            for start, to, joint in self._joined(net, several):
                chained = not to.startswith(BOARD)
                current = max(known, default=None) if chained else currents[start]
                yield Wire(start, to, joint, current, _gauge(start, current or 0.0, together))

    def _joined(self, net: str, several: Sequence[End]) -> Iterator[tuple[End, str, str]]:
        """Every end to the board; from one to the next where nothing of the board is on the net."""
        if net == EARTH:
            yield from ((end, "stud on the metal of the box, by itself", RING) for end in several)
        elif self._is_on_board(net) or len(several) == 1:
            yield from ((end, f"{BOARD}, {net}", PIN) for end in several)
        else:
            for one, other in pairwise(several):
                yield one, other.told, other.item.size.joint

    def _is_on_board(self, net: str) -> bool:
        parts = self.design.circuit.on_net(net)
        return any(part.ref not in self.labels for part, _ in parts)

    @cached_property
    def ends(self) -> list[End]:
        """All ends at panel items; the contact of a terminal that is outside has none."""
        return [end for item in self.items for end in self._ends_of(item)]

    def _ends_of(self, item: Placed) -> Iterator[End]:
        nets = self.design.need.input.nets
        assert nets is not None  # a circuit is on them
        if item.item == INLET:
            yield End(nets.plus, item, "line", "line")
            yield End(nets.minus, item, "neutral", "neutral")
            yield End(EARTH, item, "protective earth", "protective earth")
        elif not item.label and item.item == SOCKET:
            for net in (nets.plus, nets.minus):
                yield End(net, item, self._carries(net), self._carries(net))
        elif not item.label:
            yield End(item.does, item, item.does, self._carries(item.does))
        else:
            part = self.design.circuit.part(item.label)
            for pin, net in part.pins.items():
                if part.kind != "terminal" or net not in self.outside:
                    yield End(net, item, pin, self._carries(net))

    @cached_property
    def outside(self) -> Mapping[str, Carries]:
        """Nets that leave the box, with what they carry; common ones of several rails in the
        middle."""
        found: dict[str, Carries] = {}
        need = self.design.need
        poles: tuple[Carries, Carries] = ("plus", "minus")
        mains: tuple[Carries, Carries] = ("line", "neutral")
        pairs = [(need.input.nets, mains if need.input.kind == "ac" else poles)]
        for nets, names in [*pairs, *((rail.nets, poles) for rail in need.output)]:
            for net, carries in zip((nets.plus, nets.minus), names, strict=True) if nets else ():
                found[net] = carries if found.get(net, carries) == carries else "middle"
        return found

    def _carries(self, net: str) -> Carries:
        """What a net is; behind a terminal or fuse it is what it is joined to by that."""
        if net in self.outside:
            return self.outside[net]
        for part, _ in self.design.circuit.on_net(net):
            if part.kind in ("terminal", "fuse"):
                for other in part.pins.values():
                    if other in self.outside:
                        return self.outside[other]
        return "signal"

    def _current(self, end: End) -> float | None:
        """What the proof saw at an item; at the end of a rail at least what it gives, at one of
        the input what that takes."""
        item, need = end.item, self.design.need
        if item.label in self.seen:
            known = [self.seen[item.label]]
        else:
            known = [] if item.label or item.does in self._ends_of_rails else [*self._taken]
        if not item.label or self.design.circuit.part(item.label).kind == "terminal":
            known += [
                max(rail.current.max, (rail.overload.act_by or 0.0) if rail.overload else 0.0)
                for rail in need.output
                if rail.nets and end.net in (rail.nets.plus, rail.nets.minus)
                if item.label or end.net == item.does
            ]
        return max(known, default=None)

    @cached_property
    def _ends_of_rails(self) -> set[str]:
        rails = [rail.nets for rail in self.design.need.output if rail.nets]
        return {net for nets in rails for net in (nets.plus, nets.minus)}

    @cached_property
    def _taken(self) -> Sequence[float]:
        """The input's current [A], if the proof knows it: no more than either of its nets carries,
        of which one may be a rail's as well."""
        nets = self.design.need.input.nets
        rows = [row for row in self.proof.nets if nets and row.net in (nets.plus, nets.minus)]
        known = [row.current for row in rows if row.current is not None]
        return [min(known)] if known else []


def _gauge(start: End, current: float, together: int) -> int:
    mains = start.carries in ("line", "neutral", "protective earth")
    for gauge in GAUGES:
        carried = vacuum_current(gauge, together, INSULATION)
        drops = current * resistance(1.0, area(gauge))
        if carried >= current and drops <= MOST_DROP and not (mains and gauge > MAINS_GAUGE):
            return gauge
    raise Unmakeable(
        f"no wire of AWG {GAUGES[-1]} or thinner carries {show(current, 'A')} at {start.told} in a "
        f"bundle of {together}. Use a bar, or several wires side by side"
    )


def _sized(joint: str, gauge: int) -> str:
    """A joint with the size of its crimp; what is soldered has none."""
    if joint not in CRIMPED:
        return joint
    band = next(colour for thinnest, colour in BANDS if gauge >= thinnest)
    return f"{joint}, {band}"


_LEAD = (
    "The thinnest wires that carry what the proof saw, bundled, and drop at most "
    f"{MOST_DROP * 1e3:.0f} mV a metre. Colours after IEC 60445; local codes go first."
)
_ON_MAINS = (
    "The input can kill. Local codes and licensed practice come first.",
    "Insulate every joint on the mains, tie its wires so that one that comes off touches nothing "
    "else, and leave the protective conductor longest.",
)


class Harness(Document):
    """Wires to be cut, with what is at their ends."""

    name = "Harness"
    place = 70

    def files(self, job: Job) -> Mapping[str, bytes]:
        return {"harness.csv": csv_of(HEADING, _rows(harness(job)))}

    def sheet(self, job: Job) -> Sheet:
        rows = [
            (
                *(str(number), wire.start.net, *_ways(wire)),
                *(_amperes(wire), _thick(wire), _drop(wire)),
                f"{wire.colour.name} {wire.colour.code}",
            )
            for number, wire in enumerate(harness(job), 1)
        ]
        grid = Grid(ON_PAGE, rows, (0, 0, 1.2, 1.6, 1.2, 1.4, 0, 0.9, 0, 0))
        alternating = job.design.need.input.kind == "ac"
        blocks: list[Block] = [Caution(_ON_MAINS), grid] if alternating else [grid]
        return Sheet(job.design.title, self.name, [Section("", blocks)], _LEAD)


def _ways(wire: Wire) -> tuple[str, str, str, str]:
    """From where to where, and how it ends at either side."""
    near, far = wire.joints
    return wire.start.told, near, wire.to, far


def _amperes(wire: Wire) -> str:
    return "not known" if wire.current is None else measurable(wire.current, "A")


def _thick(wire: Wire) -> str:
    return f"AWG {wire.gauge}, {wire.cross_section * 1e6:.2f} mm²"


def _drop(wire: Wire) -> str:
    return "not known" if wire.drop is None else measurable(wire.drop, "V")


def _rows(wires: Sequence[Wire]) -> Iterator[tuple[str, ...]]:
    for number, wire in enumerate(wires, 1):
        yield (
            str(number),
            wire.start.net,
            *_ways(wire),
            _amperes(wire),
            f"AWG {wire.gauge}",
            f"{wire.cross_section * 1e6:.2f} mm²",
            _drop(wire),
            wire.colour.name,
            wire.colour.code,
        )
