"""What three-terminal linear regulators share; no kind of its own."""

from __future__ import annotations

from typing import Any, ClassVar

from railwright.devices.arithmetic import ROOM, clipped, positive, step
from railwright.devices.device import (
    CASE,
    JUNCTION,
    JUNCTION_OBSERVES,
    JUNCTION_VALUES,
    Device,
    Fault,
    Number,
    Pin,
    Rating,
    Terms,
    Unknown,
    Value,
    Window,
    dissipate,
)
from railwright.devices.noise import NOISE_VALUES, input_noise

CORNER = 1e-3  # V
DROPPED = 0.05  # V; a part with less to spare than this is at its dropout
STARVING = 0.1  # V; below its dropout by that, the input of a part gives no current
IDLE = 1e-6  # A; what the pass element takes back at most, so that an idle output is defined
OHM = 1.0  # Ω; how far the state runs beyond a limit per volt of error that is left

REGULATOR_PINS = {"input": Pin("power-input"), "output": Pin("power-output"), **CASE}
REGULATOR_VALUES = {
    "line_regulation": Value("1/V", "relative change of the output per volt across", least=0.0),
    "load_regulation": Value("1", "relative fall of the output at the rated current", least=1e-6),
    "rated_current": Value("A", "current of the load regulation", least=1e-3),
    "reference_difference": Value("V", "input minus output of the stated voltage", default=5.0),
    "dropout": Value("V", "least input minus output at the dropout current, 25 °C", least=0.0),
    "dropout_current": Value("A", "output current of that dropout", least=0.0),
    "dropout_resistance": Value("Ω", "rise of the dropout with the current", least=0.0),
    "dropout_drift": Value("V/K", "change of the dropout per kelvin of the junction"),
    "recommended_headroom": Value("V", "input minus output of the stated limits", default=0.0),
    "minimum_load": Value("A", "least output current that keeps regulation", default=0.0),
    "current_limit": Value("A", "output current limit at a small difference", least=1e-3),
    "limit_fall": Value(
        "1/V", "relative fall of the limit per volt across", default=0.0, least=0.0
    ),
    "limit_fall_from": Value("V", "input minus output where that fall begins", default=0.0),
    "output_inductance": Value(
        "H",
        "rise of its output impedance with frequency",
        least=1e-12,
        dynamic=True,
        own_loop=True,
    ),
    "open_loop_resistance": Value(
        "Ω",
        "output resistance beyond its bandwidth",
        least=1e-3,
        dynamic=True,
        own_loop=True,
    ),
    "feedthrough": Value(
        "A/V", "current per volt of ripple across, beyond its bandwidth", least=0.0, dynamic=True
    ),
    **NOISE_VALUES,
    **JUNCTION_VALUES,
}
REGULATOR_RATINGS = {
    "rated_current": Rating("A", "output_current", "regulator", "output current"),
    "junction_limit": Rating("°C", "junction", "regulator", "junction"),
}
REGULATOR_OBSERVES = {
    "across": "V",
    "dropout": "V",
    "recommended": "V",
    "output_current": "A",
    "minimum_load": "A",
    "current_limit": "A",
    "drawn_current": "A",
    "demanded_current": "A",
    "unlimited_across": "V",
    "regulated_voltage": "V",
    **JUNCTION_OBSERVES,
}


def capacitor_windows(*below: str) -> dict[str, Window]:
    """Windows of the capacitors at input and output, from there to a pin or to the return."""
    return {
        "input_capacitance": Window("capacitance", ("input", *below)),
        "output_capacitance": Window("capacitance", ("output", *below)),
        "output_series_resistance": Window("series resistance", ("output", *below)),
    }


class LinearRegulator(Device):
    """A pass element that gives the current which the tightest of its limits allows.

    A negative one is the same with all voltages and currents turned over; what it reports is
    as of its positive counterpart.

    The loop holds the voltage between output and reference pin, less the load regulation;
    where the input is too low, the pass element holds its dropout; beyond the current limit,
    which falls with the voltage across, it is a current source. It never takes current in.
    With less than the minimum load a real output rises; here it stays, so that the current
    shows how much load is wanting.

    In time, the loop's falling gain makes the output impedance rise like that of a coil, up to
    that of the bare pass element: Z = r + (j w L in parallel with R). A ripple across the pass
    element drives a current g times itself, which the loop takes away at low frequencies only:
    the rejection is what the line regulation leaves, and falls where g w L exceeds that. The
    published curves of output impedance and of ripple rejection state L, R and g, all for what
    is held against the reference pin; a divider at that pin enlarges them with the voltage. A
    loop of one pole: Gray, Hurst, Lewis and Meyer, Analysis and Design of Analog Integrated
    Circuits, chapter 8; that the curves follow it: from memory.
    """

    bleed: ClassVar[float] = 1e-5
    """What it takes back on top of that per volt too much [S]: less than a real one's divider."""

    unknowns = {"state": Unknown("A"), **JUNCTION}
    protects_itself = True  # thermal shutdown, which every datasheet of these types states
    faults = (
        Fault("open", 0.5, ("output",)),
        Fault("short", 0.4, ("input", "output")),
        Fault("drift", 0.1, moves=("output_voltage", "reference")),
    )
    conducts = (("input", "output"),)
    symbol = "regulator"

    def constants(self, v: Any) -> dict[str, Number]:
        return {"fall_per_ampere": v.load_regulation / v.rated_current}

    def above(self, t: Terms, pin: str, other: str) -> Number:
        """Voltage of a pin against another; turned over for a negative regulator [V]."""
        volts = t.v(pin) - t.v(other)
        return -volts if self.negative else volts

    def through(self, t: Terms, start: str, end: str, amount: Number) -> None:
        """State a flow from start to end, or from end to start for a negative regulator [A]."""
        t.through(start, end, -amount if self.negative else amount)

    def pass_current(
        self,
        t: Terms,
        below: str,
        nominal: Number,
        sensed: str = "output",
        enabled: Number = 1.0,
    ) -> tuple[Number, Number]:
        """State the pass element's equation.

        below: the pin against which the `sensed` one is held; nominal: voltage held [V]; enabled:
        0 to 1. Returns the current from input to output [A], and from 0 to 1 whether the part is
        at its dropout.
        """
        state = t.x("state")
        across = self.above(t, "input", "output")
        excess = positive(across - t.p.limit_fall_from, 0.1)
        most = t.p.current_limit * positive(1.0 - t.p.limit_fall * excess, 1e-2)
        inside = clipped(state, -IDLE, most * enabled, IDLE)
        beyond = (state - inside) * OHM
        current = inside + self.bleed * beyond
        warmth = t.v("junction") - ROOM
        dropout = positive(
            t.p.dropout
            + t.p.dropout_resistance * (current - t.p.dropout_current)
            + t.p.dropout_drift * warmth,
            CORNER,
        )
        change = t.p.line_regulation * (across - t.p.reference_difference)
        held = enabled * nominal * (1.0 + change)
        fall = nominal * t.p.fall_per_ampere * current / t.gain
        regulated = self.above(t, sensed, below)
        error = t.signal("error", held - regulated)
        wanted = error - fall
        # An input below its dropout leaves nothing for the output, but does not pull it down.
        # Not even into a short circuit does it give a current.
        available = self.above(t, "input", below)
        starved = step((dropout - available) / STARVING)
        kept = positive(dropout - positive(dropout - available, CORNER), CORNER)
        spare = across - kept - OHM * current * starved
        allowed = wanted - positive(wanted - spare, CORNER)
        t.zero("state", allowed - beyond)
        at_once = allowed / t.p.open_loop_resistance + t.p.feedthrough * across
        t.flux("state", t.p.output_inductance * (state - at_once))
        input_noise(t, "state")

        t.observe("across", across)
        t.observe("dropout", dropout)
        t.observe("recommended", t.p.recommended_headroom)
        t.observe("output_current", current)
        t.observe("drawn_current", current)
        t.observe("minimum_load", t.p.minimum_load)
        # What the part lacks shows in its demands: they go beyond its limits, its actual
        # current and voltage cannot.
        lacking = positive(wanted, CORNER)
        dropped = step(1.0 - spare / DROPPED)
        t.observe("unlimited_across", across - lacking * dropped)
        t.observe("demanded_current", current * (1.0 + lacking * (1.0 - dropped) / nominal))
        t.observe("current_limit", most)
        t.observe("regulated_voltage", regulated)
        return current, dropped

    def carry(
        self, t: Terms, below: str, current: Number, aside: Number, heat: Number = 0.0
    ) -> None:
        """State the flows of the pass current and of the current aside into `below` [A].

        heat: what arises besides the heat of these [W].
        """
        self.through(t, "input", "output", current)
        self.through(t, "input", below, aside)
        across, supply = self.above(t, "input", "output"), self.above(t, "input", below)
        dissipate(t, across * current + supply * aside + heat)
