"""What a drawing consists of, in steps of its grid."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from railwright.make.drawing.figure import Figure, Flag, lettering_box
from railwright.make.drawing.geometry import Box, Point, Spot
from railwright.make.drawing.symbol import Lettering


@dataclass(frozen=True, slots=True)
class Standing:
    """A part where it stands."""

    figure: Figure
    at: Point

    @property
    def ref(self) -> str:
        return self.figure.part.ref

    def tips(self) -> Mapping[str, Point]:
        """Pin -> where a wire meets it."""
        x, y = self.at
        return {pin: (tx + x, ty + y) for pin, (tx, ty) in self.figure.tips.items()}

    def leads(self) -> Mapping[str, tuple[Point, Spot]]:
        """Pin -> its lead, from the tip."""
        x, y = self.at
        return {
            pin: ((tip[0] + x, tip[1] + y), (inner[0] + x, inner[1] + y))
            for pin, (tip, inner) in self.figure.leads.items()
        }

    def body(self) -> Box:
        return self.figure.body.moved(*self.at)

    def inked(self) -> Box:
        """What of the body is drawn upon: the ends of a symbol of two pins are bare."""
        return self.body().grown(0.0 if self.figure.symbol.upright else -0.4)

    def label(self) -> Sequence[Lettering]:
        """Ref and value, where they stand."""
        return [moved(text, *self.at) for text in self.figure.label]

    def texts(self) -> Sequence[Lettering]:
        """Texts of the symbol, where they stand."""
        turn = self.figure.turn
        found = []
        for text in self.figure.symbol.texts:
            at = turn.spot(*text.at)
            anchor = text.anchor
            if turn.spot(1, 0)[0] < 0 and anchor != "middle":
                anchor = "end" if anchor == "start" else "start"
            if self.figure.symbol.name != "box":
                at = (at[0], at[1] + 0.36 * text.size / 10)
            found.append(moved(Lettering(text.text, at, anchor, text.size), *self.at))
        return found


@dataclass(frozen=True, slots=True)
class Wire:
    """A straight piece of wire."""

    net: str
    start: Point
    end: Point


@dataclass(frozen=True, slots=True)
class Dot:
    """Where three or more wires and pins are joined."""

    net: str
    at: Point


@dataclass(frozen=True, slots=True)
class Name:
    """The name of a net beside its wire; it joins nothing."""

    net: str
    lettering: Lettering


@dataclass(frozen=True, slots=True)
class Frame:
    """The border of a block."""

    title: str
    box: Box
    lettering: Lettering


@dataclass
class Scene:
    """A whole drawing."""

    title: str
    zero: str
    box: Box
    parts: Sequence[Standing]
    wires: Sequence[Wire]
    dots: Sequence[Dot]
    flags: Sequence[Flag]
    names: Sequence[Name]
    frames: Sequence[Frame]
    strip: Sequence[Lettering]
    """Texts of the title strip."""
    strip_box: Box

    def texts(self) -> list[Lettering]:
        """Every text of it."""
        found = [text for part in self.parts for text in (*part.label(), *part.texts())]
        found += [flag.lettering for flag in self.flags if not flag.ground]
        found += [name.lettering for name in self.names]
        found += [frame.lettering for frame in self.frames if frame.title]
        return [*found, *self.strip]

    def text_boxes(self) -> list[Box]:
        """What its texts take up."""
        return [lettering_box(text) for text in self.texts()]


def moved(text: Lettering, x: float, y: float) -> Lettering:
    """A text elsewhere."""
    return Lettering(text.text, (text.at[0] + x, text.at[1] + y), text.anchor, text.size, text.more)
