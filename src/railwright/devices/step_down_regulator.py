"""Step-down switching regulator with a freewheel diode: means over its cycle."""

from __future__ import annotations

from collections.abc import Mapping

from railwright.devices import step_down_cycles
from railwright.devices.arithmetic import positive, step
from railwright.devices.device import (
    CASE,
    Number,
    Pin,
    Rating,
    Terms,
    Value,
    dissipate,
)
from railwright.devices.diode import forward_drop
from railwright.devices.enable import enabled, own_current
from railwright.devices.inductor import inductance
from railwright.devices.switching import SWITCH_LEAK, stage_windows
from railwright.devices.switching_means import (
    FORWARD_CORNER,
    Cycle,
    duty_asked,
    edge_loss,
    observe_means,
    regulate,
    volt_seconds,
)
from railwright.devices.switching_regulator import (
    SwitchingRegulator,
    coil_and_diode,
    switch_faults,
)

STARVED = 0.1  # V; an input below this feeds the less
STRAY_RESISTANCE = 1e-4  # Ω; of the way that stands in for a diode that is not there


class StepDownRegulator(SwitchingRegulator):
    """Mean behaviour over a cycle, in continuous and in discontinuous conduction.

    With the switch from the input to its pin and the diode from ground, the coil's voltages of
    `switching_means` are A = Vin - Von - Vsw and B = Vsw + Vd. The error amplifier's gain falls
    from its pole on, like an integrator's, and stays level from its zero on. Cycle by cycle:
    `step_down_cycles`.
    Source: Erickson and Maksimovic, Fundamentals of Power Electronics, chapters 2, 3, 5 and 9.
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
        **SwitchingRegulator.values,
        "low_resistance": Value(
            "Ω", "of the low switch, of a synchronous regulator", default=0.0, least=0.0
        ),
    }
    ratings = {
        **SwitchingRegulator.ratings,
        "rated_current": Rating("A", "coil_current", "regulator", "output current"),
    }
    windows = stage_windows("coil")
    links = coil_and_diode("cathode")
    faults = switch_faults("input", "switch")
    conducts = (("input", "switch"), ("ground", "switch"))

    def needed_links(self, options: Mapping[str, str]) -> tuple[str, ...]:
        return ("coil",) if options["rectifier"] == "synchronous" else tuple(self.links)

    def equations(self, t: Terms) -> None:
        cycle = self._cycle(t)
        t.zero("coil", volt_seconds(cycle))
        regulate(t, t.p.reference - (t.v("feedback") - t.v("ground")), cycle)
        self._flows(t, cycle)
        observe_means(t, cycle)

    def switched_equations(self, t: Terms) -> None:
        step_down_cycles.state(t)

    def _cycle(self, t: Terms) -> Cycle:
        coil = t.x("coil")
        forced = t.option("rectifier") == "synchronous"
        forward = coil if forced else positive(coil, FORWARD_CORNER)
        freewheel = t.linked("freewheel")
        if forced:
            low_drop = t.p.low_resistance * coil
        elif freewheel is None:
            low_drop = STRAY_RESISTANCE * coil
        else:
            low_drop = forward_drop(freewheel, forward)
        link = t.linked("coil")
        on_drop = t.p.saturation_voltage + t.p.switch_resistance * forward
        supply, switch = t.v("input") - t.v("ground"), t.v("switch") - t.v("ground")
        raw_duty = duty_asked(t)
        return Cycle(
            rise=supply - on_drop - switch,
            fall=switch + low_drop,
            total=supply - on_drop + low_drop,
            coil=coil,
            raw_duty=raw_duty,
            duty=raw_duty * enabled(t),
            on_drop=on_drop,
            diode_drop=low_drop,
            two_lf=None if link is None else 2.0 * t.p.frequency * inductance(link, coil),
            forced=forced,
        )

    def _flows(self, t: Terms, cycle: Cycle) -> None:
        supply, switch = t.v("input") - t.v("ground"), t.v("switch") - t.v("ground")
        feedback = t.v("feedback") - t.v("ground")
        # From an input at ground the switch carries none: that would be power from nowhere.
        through_switch = cycle.switch_share * step(supply / STARVED) * cycle.coil
        through_diode = cycle.coil - through_switch
        aside = (own_current(t, enabled(t)) + edge_loss(t, cycle.coil)) * step(supply)
        bias = t.p.feedback_current * step(feedback)
        leak = SWITCH_LEAK * switch
        t.through("input", "switch", through_switch)
        t.through("ground", "switch", through_diode)
        t.through("input", "ground", aside)
        t.through("feedback", "ground", bias)
        t.through("switch", "ground", leak)

        taken = supply * (through_switch + aside) + feedback * bias
        given = switch * (cycle.coil - leak)
        diode_heat: Number = 0.0
        freewheel = t.linked("freewheel")
        if freewheel is not None and not cycle.forced:
            diode_heat = cycle.diode_drop * through_diode
            freewheel.flow("junction", -diode_heat)
            freewheel.observe("current", through_diode)
            freewheel.observe("reverse_voltage", cycle.blocking)
        dissipate(t, taken - given - diode_heat)
        t.observe("diode_current", through_diode)
