"""Regulators whose output two legs set: as a fixed divider, trimmed, or by a knob."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from railwright.architectures.architecture import Task, Unserved
from railwright.architectures.regulator import (
    NOISE_FROM,
    NOISE_TO,
    Place,
    Regulator,
    Setting,
    Wiring,
)
from railwright.architectures.sheet import Sheet
from railwright.architectures.sizing.capacitors import capacitor
from railwright.architectures.sizing.choice import Choice, of_kind, price_of, spread_of
from railwright.architectures.sizing.diodes import diode
from railwright.architectures.sizing.divider import (
    AdjustableLeg,
    Divider,
    Inaccurate,
    Pin,
    adjustable_leg,
    current_of,
    divider,
    parallel,
)
from railwright.architectures.sizing.resistors import USUAL_TOLERANCE, resistor, tolerance_of
from railwright.catalogue.entry import Entry
from railwright.circuit.need import Output
from railwright.circuit.writer import NewTable
from railwright.quantity import Spread, show

BYPASSED = 10e-6
"""F at the adjust pin: keeps ripple and noise from being enlarged (datasheets of the 317 type)."""
TENTH = 0.1
"""Of its highest output is the least at which an accuracy counts."""
QUIETING = 10e-9, 100e-9, 1e-6
"""F across the leg on the output, of types with a feedback pin (datasheets have 10 nF)."""
QUIET_LEAST = 0.9
"""Least share of those that a film capacitor has (10 %, the usual grade)."""
BYPASS_DIODE = 1.0  # A; rating of the diode through which that empties
ROOM_BELOW = 1.0, 0.5, 0.0
"""Of the wanted reserve, below the lowest setting: near the reference there may be no room."""
PANEL, BOARD = "panel", "board"
"""Packages of what a person turns, and of what is set once."""
COARSEST = 0.05
"""Share of the lowest setting that a degree may move where the need says no accuracy."""


@dataclass(frozen=True)
class Legs:
    """Where the legs of a regulator stand, and what holds for them."""

    pin: str
    """Its pin between both: adjust or feedback."""
    net: str
    most_across: float
    """Ω, greatest leg with the reference across it."""
    on_output: bool
    """Whether that leg is on the output, as in three-terminal types, or on the ground."""
    current: str
    """Value of the current at that pin; into the other leg where `on_output`."""

    def setting(self, place: Place, pins: dict[str, str]) -> Setting:
        """The legs for a rail; Unserved where its voltage is out of reach."""
        return _Set(self, place, {**pins, self.pin: self.net}).setting()


def variables(task: Task, rail: Output, low: float, high: float, package: str) -> list[Entry]:
    """Linear variable resistors that a hand sets finely enough over a span [V], least track first.

    As fine as a tenth of the highest output wants it where the span goes further down, as checked
    by `output.resolution`. Unserved where there are none.
    """
    fine = (rail.accuracy or COARSEST) * task.kept * max(low, TENTH * rail.voltage.max)
    found = [
        entry
        for entry in of_kind(task.catalogue, "potentiometer")
        if entry.package.startswith(package)
        and entry.options.get("taper") == "linear"
        and {"wiper_current_maximum", "rated_power", "travel"} <= entry.values.keys()
        and 2.0 * (high - low) / spread_of(entry, "travel").low <= fine
    ]
    if not found:
        raise Unserved(
            f"no variable resistor moves the output by no more than {show(fine, 'V')} a degree",
            reached=1,
        )
    return sorted(found, key=lambda e: (spread_of(e, "resistance").typical, price_of(e)))


def bearing(task: Task) -> Callable[[Entry, float], bool]:
    """Whether a variable resistor bears a current [A] through all its track, and its wiper too."""

    def bears(variable: Entry, current: float) -> bool:
        power = current**2 * spread_of(variable, "resistance").high
        return current <= task.bears(variable, "wiper_current_maximum") and power <= task.bears(
            variable, "rated_power"
        )

    return bears


def trim(ref: str, rail: Output) -> NewTable:
    """The control of a trimmer that is set once, at the voltage of a rail."""
    point = {"voltage": show(rail.voltage.max, "V", 6)}
    return control(ref, rail, "trim") | {"calibration": point}


def control(ref: str, rail: Output, role: str) -> dict[str, str | Mapping[str, str]]:
    """The control of a variable resistor that sets the voltage of a rail."""
    return {"part": ref, "value": "position", "sets": f"{rail.name}.voltage", "role": role}


@dataclass(frozen=True)
class _Set:
    legs: Legs
    place: Place
    pins: dict[str, str]

    @property
    def task(self) -> Task:
        return self.place.task

    @property
    def rail(self) -> Output:
        return self.place.rail

    @property
    def entry(self) -> Entry:
        return self.place.entry

    def setting(self) -> Setting:
        reference, lowest = spread_of(self.entry, "reference"), self.rail.voltage.min
        if lowest < reference.high:
            raise Unserved(
                f"the output is to go down to {show(lowest, 'V')}, below its reference of up to "
                f"{show(reference.high, 'V')}; that wants an auxiliary negative rail"
            )
        self._worth_it()
        if self.rail.is_adjustable:
            return self._by_knob()
        try:
            return self._fixed()
        except Inaccurate:
            return self._trimmed()

    def _worth_it(self) -> None:
        """Unserved where no legs would help: what binds is sought before they are."""
        volts = self.rail.voltage
        bare = Setting(volts.min, volts.max, volts.max, 0.0, lambda sheet, nets: (), self.pins)
        regulator = Regulator(self.place, bare)
        regulator.judge()
        regulator.headroom(0.0)

    @property
    def pin(self) -> Pin:
        known = spread_of(self.entry, self.legs.current)
        # The current of an adjust pin has no published least one: it may be nil.
        return Pin(
            spread_of(self.entry, "reference"), Spread.limits(0.0, known.typical, known.high)
        )

    @property
    def tolerance(self) -> float:
        wanted = self.task.need.parts.resistor_tolerance
        return USUAL_TOLERANCE if wanted is None else wanted

    @property
    def series(self) -> str:
        return self.task.need.parts.series

    def _fixed(self) -> Setting:
        volts, left = self.rail.voltage.max, self.place.accuracy_left()
        grade = self._grade()
        found = divider(
            self.pin, volts, self.legs.most_across, self.series, tolerance_of(grade), left
        )
        quieted = self._quieted(found.across)

        def draw(sheet: Sheet, nets: Wiring) -> tuple[NewTable, ...]:
            self._across(sheet, nets, found.across)
            one, two = self._ends(nets)
            power = self._current(found.across) ** 2 * found.other
            self._resistor(sheet, {"one": one, "two": two}, found.other, power, found.words)
            self._bypass(sheet, nets, quieted)
            return ()

        return Setting(
            found.low, found.high, found.high, self._current(found.across), draw, self.pins
        )

    def _trimmed(self) -> Setting:
        self.place.accuracy_left()
        volts = self.rail.voltage.max
        margin = 0.01 * volts
        found = self._leg(volts - margin, volts + margin, BOARD)
        quieted = self._quieted(found.across)
        told = f"trims the output to {show(volts, 'V', 6)}: reference and legs off by "
        told += f"{show(self._untrimmed(found).error, '1')} are within its reach"

        def draw(sheet: Sheet, nets: Wiring) -> tuple[NewTable, ...]:
            ref = self._drawn(sheet, nets, found, quieted, told)
            return (trim(ref, self.rail),)

        return Setting(volts, volts, volts, self._current(found.across), draw, self.pins)

    def _untrimmed(self, found: AdjustableLeg) -> Divider:
        volts, tolerance = self.rail.voltage.max, tolerance_of(self._grade())
        return divider(self.pin, volts, found.across, self.series, tolerance, allowed=1.0)

    def _by_knob(self) -> Setting:
        volts = self.rail.voltage
        spare = self.task.need.parts.reserve * (volts.max - volts.min)
        spare += volts.max * self.place.regulation
        found = self._knob(volts.min, volts.max + spare, spare)
        quieted = self._quieted(found.across)
        told = (
            f"reaches from {show(volts.min, 'V')} to {show(volts.max, 'V')} with every part at "
            f"its unfavourable limit; turned up it may give {show(found.top, 'V')}"
        )

        def draw(sheet: Sheet, nets: Wiring) -> tuple[NewTable, ...]:
            ref = self._drawn(sheet, nets, found, quieted, told)
            return (control(ref, self.rail, "set"),)

        current, reach = self._current(found.across), volts.max + spare
        return Setting(volts.min, volts.max, reach, current, draw, self.pins, found.top)

    def _knob(self, low: float, high: float, spare: float) -> AdjustableLeg:
        """The legs of a knob that reaches from `low` to `high`, with room below where there is."""
        reference = spread_of(self.entry, "reference").high
        refused: list[Unserved] = []
        for share in ROOM_BELOW:
            try:
                return self._leg(max(low - share * spare, reference), high, PANEL)
            except Unserved as unserved:
                refused.append(unserved)
        raise refused[0]

    def _leg(self, low: float, high: float, package: str) -> AdjustableLeg:
        grade = self._grade()
        return adjustable_leg(
            self.pin,
            low,
            high,
            variables(self.task, self.rail, low, high, package),
            self.legs.most_across,
            self.series,
            tolerance_of(grade),
            bearing(self.task),
            besides=True,
        )

    def _current(self, across: float) -> float:
        return current_of(self.pin, across, self.tolerance)

    def _grade(self, power: float = 0.0) -> Entry:
        """The resistors that may be used for a leg that takes a power [W]."""
        return resistor(self.task, power, self.tolerance)

    def _ends(self, nets: Wiring) -> tuple[str, str]:
        """Of the other leg: the pin, and what it leads to."""
        return self.legs.net, nets.ground if self.legs.on_output else nets.out

    def _across(self, sheet: Sheet, nets: Wiring, ohms: float) -> None:
        reference = spread_of(self.entry, "reference")
        least = reference.low / (ohms * (1.0 + self.tolerance))
        why = f"{show(reference.low, 'V')} across it drive at least {show(least, 'A')}"
        if "minimum_load" in self.entry.values:
            wanted = show(spread_of(self.entry, "minimum_load").high, "A")
            why += f"; the regulator may need {wanted} to regulate"
        pins = {"one": nets.out if self.legs.on_output else nets.ground, "two": self.legs.net}
        self._resistor(sheet, pins, ohms, reference.high**2 / ohms, why)

    def _resistor(
        self, sheet: Sheet, pins: dict[str, str], ohms: float, power: float, why: str
    ) -> None:
        use = self._grade(power).name
        sheet.add("R", "resistor", "regulator", pins, why, use=use, resistance=show(ohms, "Ω", 4))

    def _drawn(
        self, sheet: Sheet, nets: Wiring, leg: AdjustableLeg, quieted: Choice | None, why: str
    ) -> str:
        """Both legs, the other one with the variable resistor; ref of that."""
        self._across(sheet, nets, leg.across)
        start, end = self._ends(nets)
        if leg.fixed:
            leg_net = self.task.inner("LEG")
            told = "keeps the lower end stop from going further down than it has to"
            power = self._current(leg.across) ** 2 * leg.fixed
            self._resistor(sheet, {"one": start, "two": leg_net}, leg.fixed, power, told)
            start = leg_net
        pins = {"one": start, "wiper": end, "two": end}
        use = leg.variable.name
        ref = sheet.add("RV", "potentiometer", "regulator", pins, why, use=use)
        if leg.beside:
            told = "takes from the track what it has too much of, and half of its tolerance"
            track = spread_of(leg.variable, "resistance").high
            across = self._current(leg.across) * parallel(track, leg.beside)
            power = across**2 / leg.beside
            self._resistor(sheet, {"one": start, "two": end}, leg.beside, power, told)
        self._bypass(sheet, nets, quieted)
        return ref

    def _bypass(self, sheet: Sheet, nets: Wiring, quieted: Choice | None) -> None:
        """A capacitor at an adjust pin and the diode that empties it, or one across the leg."""
        if not self.legs.on_output:
            if quieted is not None:
                pins = {"plus": nets.out, "minus": self.legs.net}
                use = quieted.entry.name
                sheet.add("C", "capacitor", "regulator", pins, quieted.why, use=use)
            return
        volts, why = self.place.feed.high, "keeps ripple and noise off the adjust pin"
        chosen = capacitor(self.task, "electrolytic", BYPASSED, volts, why)
        pins = nets.across(self.legs.net)
        sheet.add("C", "capacitor", "regulator", pins, chosen.why, use=chosen.entry.name)
        why = "empties that capacitor when the output is shorted"
        guard = diode(self.task, BYPASS_DIODE, volts, why, lasting=False)
        pins = nets.leading(self.legs.net, nets.out)
        sheet.add("D", "diode", "regulator", pins, guard.why, use=guard.entry.name)

    def _quieted(self, across: float) -> Choice | None:
        """The capacitor across the other leg, where the need asks for little noise.

        Without it the legs enlarge the noise of the reference as they do its voltage. Unserved
        where no capacitor keeps what is allowed.
        """
        if self.rail.noise is None or self.legs.on_output:
            return None
        reference, most = spread_of(self.entry, "reference").low, self.rail.voltage.max
        gain, allowed = most / reference, self.task.kept * self.rail.noise
        density = spread_of(self.entry, "noise_voltage").high
        told = f"legs enlarge noise up to {show(gain, '1')} times; "
        for farads in QUIETING:
            noise = enlarged_noise(density, gain, across, QUIET_LEAST * farads)
            if noise <= allowed:
                why = f"{told}with this {show(noise, 'V')} from 10 Hz to 100 kHz are left"
                return capacitor(self.task, "film", farads, self.place.feed.high, why)
        raise Unserved(
            f"{show(noise, 'V')} of noise reach the output at worst, even with "
            f"{show(farads, 'F')} across a leg; {show(self.rail.noise, 'V')} are allowed",
            reached=4,
        )


def enlarged_noise(density: float, gain: float, across: float, capacitance: float) -> float:
    """Noise of a reference, 10 Hz to 100 kHz, behind legs with a capacitor across the other [V].

    The gain 1 + (G - 1)/(1 + s C R), R = across (G - 1), squared and integrated over frequency:
    B + (G + 1)/(4 across C), for B far beyond the corner of the legs. All in SI. Source: the
    noise bandwidth of one pole, pi/2 times its corner (Motchenbacher and Connelly, Low-Noise
    Electronic System Design, chapter 1).

    >>> round(enlarged_noise(100e-9, 4.0, 10e3, 100e-9) * 1e6, 2)
    31.82
    """
    bandwidth = NOISE_TO - NOISE_FROM + (gain + 1.0) / (4.0 * across * capacitance)
    return float(density * bandwidth**0.5)
