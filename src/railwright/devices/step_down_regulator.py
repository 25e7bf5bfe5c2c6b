"""Step-down switching regulator with a freewheel diode: means over its cycle."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from railwright.devices import step_down_cycles
from railwright.devices.arithmetic import (
    clipped,
    log,
    positive,
    saturation_current,
    step,
    thermal_voltage,
)
from railwright.devices.device import (
    CASE,
    JUNCTION,
    JUNCTION_OBSERVES,
    JUNCTION_VALUES,
    Device,
    Fault,
    Link,
    Number,
    Pin,
    Rating,
    Terms,
    Unknown,
    Value,
    dissipate,
)
from railwright.devices.inductor import inductance
from railwright.devices.noise import NOISE_VALUES, input_noise
from railwright.devices.step_down_cycles import SWITCH_LEAK, enabling
from railwright.devices.switching import (
    CONTROL_UNKNOWNS,
    ENABLE_HYSTERESIS,
    HOLDS,
    SWITCHING_VALUES,
    compensate,
)

CORNER = 1e-3  # V
DUTY_CORNER = 1e-4
NEAR_LIMIT = 0.05  # V; a loop with less room than this is held by its current limit
CURRENT_WIDTH = 0.01  # A; over which `continuous` goes from 0 to 1
STARVED = 0.1  # V; an input below this feeds the less
STRAY_RESISTANCE = 1e-4  # Ω; of the way that stands in for a diode that is not there
VOLT_PER_AMPERE = 1.0  # Ω; how strongly the cycle's current limit acts on the loop


@dataclass(frozen=True, slots=True)
class Cycle:
    """Quantities of one switching cycle; voltages against the ground pin."""

    supply: Number
    switch: Number
    coil: Number
    """Mean current out of the switch pin [A]."""
    raw_duty: Number
    """Duty that the loop asks for."""
    duty: Number
    """The same while enabled, else nil."""
    on_drop: Number
    diode_drop: Number
    two_lf: Number | None
    """Twice the coil's inductance times the frequency [Ω]; None without a coil."""
    forced: bool
    """True where a low switch carries the coil current in both directions."""

    @property
    def rise(self) -> Number:
        """Voltage across the coil while the switch conducts [V]."""
        return self.supply - self.on_drop - self.switch

    @property
    def fall(self) -> Number:
        """Voltage across the coil while the diode conducts [V]."""
        return self.switch + self.diode_drop

    @property
    def span(self) -> Number:
        """Rise plus fall, never below nil [V]."""
        return positive(self.supply - self.on_drop + self.diode_drop, 0.01)

    @property
    def half_ripple(self) -> Number:
        """Half of the coil current's peak-to-peak ripple [A]."""
        if self.two_lf is None:
            return 0.0
        return self.duty * positive(self.rise, CORNER) / self.two_lf

    @property
    def excess(self) -> Number:
        """Mean coil current above the least that conducts continuously [A]."""
        return self.coil - self.half_ripple

    @property
    def peak(self) -> Number:
        """Peak coil current: in discontinuous conduction the whole ripple [A]."""
        if self.forced:
            return self.half_ripple + self.coil
        return 2.0 * self.half_ripple + positive(self.excess, CORNER)

    @property
    def switch_share(self) -> Number:
        """Share of the coil current that the switch carries; the diode carries the rest.

        From an input at ground it carries none: that would be power from nowhere.
        """
        share = clipped(self.fall / (self.span + 1e-6), 0.0, 1.0, 1e-6)
        return share * step(self.supply / STARVED)


class StepDownRegulator(Device):
    """Mean behaviour over a cycle, in continuous and in discontinuous conduction.

    With rise voltage A = Vin - Von - Vsw, fall voltage B = Vsw + Vd and S = A + B, volt-second
    balance gives D S = B in continuous conduction, and the triangular coil current gives
    D^2 A S = 2 L f I B in discontinuous conduction. The left sides fall short of the right ones
    in the other regime, so that one equation states both: the greater of the two differences
    is nil. In both, the switch carries the share B / S of the coil current and the diode the
    rest. Each cycle ends at the current limit; a fall of the frequency in overload is left out.
    In peak current mode the amplified error commands a share of the current limit, which the peak
    plus the slope compensation reaches at the end of the pulse. Cycle by cycle: `step_down_cycles`.
    Source: Erickson and Maksimovic, Fundamentals of Power Electronics, chapters 2, 3 and 5;
    switching loss V I t f / 2, chapter 4. In time the balance holds for the coil's mean current
    and voltage (chapters 7 and 11); the error amplifier's gain falls from its pole on, like an
    integrator's, and stays level from its zero on (chapter 9).
    Faults and their shares: linear regulators, MIL-HDBK-338 as commonly quoted (from memory),
    for want of a row for switching ones.

    A synchronous regulator has a low switch instead of the diode, which carries the coil current
    in both directions: it always conducts continuously.

    `enable_inverted` 1 turns the sense of the disable pin over. Without a coil in the circuit,
    conduction counts as continuous; without a diode, a small resistance carries its current.
    """

    kind = "step-down-regulator"
    pins = {
        "input": Pin("power-input"),
        "switch": Pin("switch"),
        "ground": Pin("ground"),
        "feedback": Pin("feedback"),
        "disable": Pin("enable", optional=True),
        **CASE,
    }
    options = {
        "enable_active": ("low", "high"),
        "control": ("voltage-mode", "peak-current-mode"),
        "rectifier": ("diode", "synchronous"),
    }
    values = {
        "reference": Value("V", "voltage held at the feedback pin", least=0.1),
        "frequency": Value("Hz", "switching frequency", least=1e3),
        "saturation_voltage": Value("V", "voltage across the switch at no current", least=0.0),
        "switch_resistance": Value("Ω", "its rise with the current", least=1e-4),
        "low_resistance": Value(
            "Ω", "of the low switch, of a synchronous regulator", default=0.0, least=0.0
        ),
        "transition_time": Value("s", "rise plus fall time of the switch", least=0.0),
        "duty_limit": Value("1", "greatest duty", least=0.1, most=1.0),
        "minimum_on_time": Value("s", "shortest pulse without skipping", default=0.0, least=0.0),
        "gain": Value("1/V", "duty per volt of error", least=1.0),
        "compensation_pole": Value("Hz", "where that gain falls", least=0.01, dynamic=True),
        "compensation_zero": Value("Hz", "where its fall ends", least=0.01, dynamic=True),
        **NOISE_VALUES,
        "current_limit": Value("A", "peak switch current that ends a cycle", least=0.01),
        "quiescent_current": Value("A", "own current while it works", least=0.0),
        "standby_current": Value("A", "own current while disabled", least=0.0),
        "feedback_current": Value("A", "current into the feedback pin", default=0.0, least=0.0),
        "enable_threshold": Value("V", "disable pin against ground", least=0.05),
        "supply_minimum": Value("V", "least input voltage that works", least=0.0),
        **SWITCHING_VALUES,
        **JUNCTION_VALUES,
    }
    inputs = {"enable_inverted": 0.0}
    holds = HOLDS
    switched_unknowns = {**CONTROL_UNKNOWNS, **JUNCTION}
    ratings = {
        "supply_maximum": Rating("V", "supply_voltage", "regulator", "input voltage"),
        "rated_current": Rating("A", "coil_current", "regulator", "output current"),
        "enable_maximum": Rating("V", "enable_level", "regulator", "input voltage"),
        "junction_limit": Rating("°C", "junction", "regulator", "junction"),
    }
    unknowns = {"state": Unknown("1"), "coil": Unknown("A"), **JUNCTION}
    observes = {
        "supply_voltage": "V",
        "duty": "1",
        "duty_limit": "1",
        "demanded_duty": "1",
        "demanded_peak": "A",
        "duty_least": "1",
        "coil_current": "A",
        "coil_peak": "A",
        "current_limit": "A",
        "continuous": "1",
        "enabled": "1",
        "enable_level": "V",
        "diode_current": "A",
        "diode_reverse_voltage": "V",
        "frequency": "Hz",
        **JUNCTION_OBSERVES,
    }
    links = {
        "coil": Link(("inductor",), at="switch", pins=("one", "two")),
        "freewheel": Link(("diode",), at="switch", pins=("cathode",)),
    }
    faults = (
        Fault("open", 0.5, ("switch",)),
        Fault("short", 0.4, ("input", "switch")),
        Fault("drift", 0.1),
    )
    conducts = (("input", "switch"), ("ground", "switch"))
    symbol = "regulator"

    def needed_links(self, options: Mapping[str, str]) -> tuple[str, ...]:
        return ("coil",) if options["rectifier"] == "synchronous" else tuple(self.links)

    def equations(self, t: Terms) -> None:
        cycle = self._cycle(t)
        t.zero("coil", _volt_seconds(cycle))
        error = t.signal("error", t.p.reference - (t.v("feedback") - t.v("ground")))
        room = VOLT_PER_AMPERE * (t.p.current_limit - cycle.peak)
        wanted = error - positive(error - room, CORNER)
        beyond = t.x("state") - cycle.raw_duty
        compensate(t, wanted - beyond, _demand(t, cycle))
        input_noise(t, "state")
        # What the loop lacks shows in its demands, which go beyond the limits that it meets.
        short_of_duty = positive(t.x("state") - t.p.duty_limit, DUTY_CORNER)
        short_of_current = positive(error - positive(room, CORNER), CORNER) / VOLT_PER_AMPERE
        t.observe("demanded_duty", cycle.duty + short_of_duty)
        t.observe("demanded_peak", cycle.peak + short_of_current * step(1.0 - room / NEAR_LIMIT))
        self._flows(t, cycle)
        self._observe(t, cycle)

    def switched_equations(self, t: Terms) -> None:
        step_down_cycles.state(t)

    def _cycle(self, t: Terms) -> Cycle:
        coil = t.x("coil")
        forced = t.option("rectifier") == "synchronous"
        forward = coil if forced else positive(coil, 1e-6)
        freewheel = t.linked("freewheel")
        if forced:
            low_drop = t.p.low_resistance * coil
        elif freewheel is None:
            low_drop = STRAY_RESISTANCE * coil
        else:
            low_drop = _diode_drop(freewheel, forward)
        raw_duty = clipped(t.x("state"), 0.0, t.p.duty_limit, DUTY_CORNER)
        link = t.linked("coil")
        return Cycle(
            supply=t.v("input") - t.v("ground"),
            switch=t.v("switch") - t.v("ground"),
            coil=coil,
            raw_duty=raw_duty,
            duty=raw_duty * self._enabled(t),
            on_drop=t.p.saturation_voltage + t.p.switch_resistance * forward,
            diode_drop=low_drop,
            two_lf=None if link is None else 2.0 * t.p.frequency * inductance(link, coil),
            forced=forced,
        )

    def _enabled(self, t: Terms) -> Number:
        if not t.connected("disable"):
            return 1.0
        return step(enabling(t) / ENABLE_HYSTERESIS + 0.5)

    def _flows(self, t: Terms, cycle: Cycle) -> None:
        feedback = t.v("feedback") - t.v("ground")
        through_switch = cycle.switch_share * cycle.coil
        through_diode = cycle.coil - through_switch
        own = t.p.quiescent_current - t.p.standby_current
        own = t.p.standby_current + own * self._enabled(t)
        # Switching loss V I t f / 2, drawn as a current so that no division by V is needed.
        lost = 0.5 * positive(cycle.coil, 1e-6) * t.p.transition_time * t.p.frequency
        aside = (own + lost) * step(cycle.supply)
        bias = t.p.feedback_current * step(feedback)
        leak = SWITCH_LEAK * cycle.switch
        t.through("input", "switch", through_switch)
        t.through("ground", "switch", through_diode)
        t.through("input", "ground", aside)
        t.through("feedback", "ground", bias)
        t.through("switch", "ground", leak)

        taken = cycle.supply * (through_switch + aside) + feedback * bias
        given = cycle.switch * (cycle.coil - leak)
        diode_heat: Number = 0.0
        freewheel = t.linked("freewheel")
        if freewheel is not None and not cycle.forced:
            diode_heat = cycle.diode_drop * through_diode
            freewheel.flow("junction", -diode_heat)
            freewheel.observe("current", through_diode)
            freewheel.observe("reverse_voltage", cycle.supply - cycle.on_drop)
        dissipate(t, taken - given - diode_heat)
        t.observe("diode_current", through_diode)

    def _observe(self, t: Terms, cycle: Cycle) -> None:
        connected = t.connected("disable")
        t.observe("supply_voltage", cycle.supply)
        t.observe("duty", cycle.duty)
        t.observe("duty_limit", t.p.duty_limit)
        t.observe("duty_least", t.p.minimum_on_time * t.p.frequency)
        t.observe("coil_current", cycle.coil)
        t.observe("coil_peak", cycle.peak)
        t.observe("current_limit", t.p.current_limit)
        continuous = 1.0 if cycle.forced else step(cycle.excess / CURRENT_WIDTH + 0.5)
        t.observe("continuous", continuous)
        t.observe("enabled", self._enabled(t))
        t.observe("enable_level", t.v("disable") - t.v("ground") if connected else 0.0)
        t.observe("diode_reverse_voltage", cycle.supply - cycle.on_drop)
        t.observe("frequency", t.p.frequency)


def _demand(t: Terms, cycle: Cycle) -> Number:
    """What the error amplifier has to ask for: a duty, or a share of the current limit."""
    if t.option("control") == "voltage-mode":
        return cycle.raw_duty
    ramp = t.p.slope_compensation * cycle.raw_duty / t.p.frequency
    return (cycle.peak + ramp) / t.p.current_limit


def _volt_seconds(cycle: Cycle) -> Number:
    """The greater of both regimes' balances [V]; see the class."""
    continuous = cycle.duty * cycle.span - cycle.fall
    if cycle.two_lf is None or cycle.forced:
        return continuous
    # The discontinuous balance is in V²: over the span it is of the order of the other one.
    scale = 1.0 / (cycle.span + 1.0)
    given = cycle.duty * cycle.duty * positive(cycle.rise, CORNER) * cycle.span
    taken = cycle.two_lf * cycle.coil * positive(cycle.fall, CORNER)
    discontinuous = (given - taken) * scale
    return discontinuous + positive(continuous - discontinuous, CORNER)


def _diode_drop(diode: Terms, current: Number) -> Number:
    """Forward voltage of the freewheel diode at a current, at its own junction [V]."""
    temperature = diode.v("junction")
    slope = diode.p.ideality * thermal_voltage(temperature)
    saturation = saturation_current(
        diode.p.saturation_at_room, temperature, diode.p.ideality, diode.p.gap
    )
    return slope * log(1.0 + current / saturation) + diode.p.series_resistance * current
