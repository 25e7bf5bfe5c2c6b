"""What the step-up and the inverting switching regulator share; no kind of its own.

Both fill the coil while the switch conducts and empty it through the diode while it does not. The
diode is outside and leads past the regulator to the output; the means know it by its link.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import ClassVar

from railwright.devices.arithmetic import positive, step
from railwright.devices.device import (
    CASE,
    Number,
    Pin,
    Rating,
    Terms,
    dissipate,
)
from railwright.devices.diode import forward_drop, passing
from railwright.devices.enable import enabled, enabling, own_current
from railwright.devices.inductor import inductance
from railwright.devices.switching import (
    SWITCH_LEAK,
    amplify,
    closed_switch,
    end_pulses,
    observe_pulses,
    reference,
    stage_windows,
    start_cycles,
    supervise,
    switching_loss,
)
from railwright.devices.switching_means import (
    FORWARD_CORNER,
    Cycle,
    duty_asked,
    edge_loss,
    observe_means,
    regulate,
    volt_seconds,
)
from railwright.devices.switching_regulator import SwitchingRegulator

OTHER_END = {"anode": "cathode", "cathode": "anode"}
FED = 0.1  # V; an input below this does not let the part switch


class IndirectRegulator(SwitchingRegulator):
    """Means over a cycle and the cycle itself; a subclass says where switch and diode lead.

    Without a coil in the circuit, conduction counts as continuous; without a diode, the switch
    alone carries the current, for its share of the time. What the circuit's own diode
    passes at the means of its potentials (all of it, where the switch rests) is a part of the
    diode's mean current, not added to it.
    """

    switch_ends: ClassVar[tuple[str, str]]
    """Pins from and to which the closed switch conducts; one of them is `switch`."""
    diode_end: ClassVar[str]
    """The pin of the freewheel diode that is not on the switch pin's net."""
    sense: ClassVar[float]
    """1 where the feedback pin lies above ground, -1 where it lies below."""

    options = {
        "enable_active": ("high", "low"),
        "control": ("voltage-mode", "peak-current-mode"),
    }
    ratings = {
        **SwitchingRegulator.ratings,
        "switch_maximum": Rating("V", "switch_voltage", "regulator", "input voltage"),
        "rated_current": Rating("A", "coil_peak", "regulator", "output current"),
    }
    windows = stage_windows("freewheel")
    observes = {**SwitchingRegulator.observes, "switch_voltage": "V"}

    def needed_links(self, options: Mapping[str, str]) -> tuple[str, ...]:
        return ("coil", "freewheel")

    def equations(self, t: Terms) -> None:
        cycle = self._cycle(t)
        if t.linked("freewheel") is None:
            beyond = positive(self._across(t) - t.p.saturation_voltage, 1e-6)
            t.zero("coil", cycle.duty * beyond - t.p.switch_resistance * cycle.coil)
        else:
            t.zero("coil", volt_seconds(cycle))
        regulate(t, t.p.reference - self._sensed(t), cycle)
        self._mean_flows(t, cycle)
        observe_means(t, cycle)
        t.observe("switch_voltage", cycle.total + cycle.on_drop)

    def switched_equations(self, t: Terms) -> None:
        supply, across, sensed = self._supply(t), self._across(t), self._sensed(t)
        current = closed_switch(t, across)
        demand = amplify(t, reference(t) - sensed)
        end_pulses(t, demand, current)
        start_cycles(t, demand, sensed)
        supervise(t, enabling(t), supply)
        t.through(*self.switch_ends, current)
        heat = (
            across * current
            + self._lose(t, switching_loss(t))
            + self._draw(t, own_current(t, t.p.works))
        )
        dissipate(t, heat)
        observe_pulses(t, demand, supply)

    def _supply(self, t: Terms) -> Number:
        return t.v("input") - t.v("ground")

    def _across(self, t: Terms) -> Number:
        """Voltage across the switch [V]."""
        start, end = self.switch_ends
        return t.v(start) - t.v(end)

    def _sensed(self, t: Terms) -> Number:
        """What is compared with the reference [V]."""
        return self.sense * (t.v("feedback") - t.v("ground"))

    def _blocked(self, t: Terms) -> Number:
        """Voltage from one end of switch and diode to the other, past the switch pin [V]."""
        freewheel = t.linked("freewheel")
        if freewheel is None:
            return self._across(t)
        start, end = self.switch_ends
        if start == "switch":
            return freewheel.v(self.diode_end) - t.v(end) + self._coupled(t, freewheel)
        return t.v(start) - freewheel.v(self.diode_end)

    def _coupled(self, t: Terms, freewheel: Terms) -> Number:
        """What a coupling capacitor between switch and diode holds [V]."""
        if t.linked("coupling") is None:
            return 0.0
        return t.v("switch") - freewheel.v(OTHER_END[self.diode_end])

    def _inductance(self, t: Terms, coil: Number) -> Number | None:
        """Of the coil, or of both in parallel, which share the current evenly [H]."""
        first, second = t.linked("coil"), t.linked("second")
        if first is None:
            return None
        if second is None or t.linked("coupling") is None:
            return inductance(first, coil)
        return 1.0 / (1.0 / inductance(first, 0.5 * coil) + 1.0 / inductance(second, 0.5 * coil))

    def _cycle(self, t: Terms) -> Cycle:
        coil = t.x("coil")
        forward = positive(coil, FORWARD_CORNER)
        freewheel, henries = t.linked("freewheel"), self._inductance(t, coil)
        on_drop = t.p.saturation_voltage + t.p.switch_resistance * forward
        diode_drop = 0.0 if freewheel is None else forward_drop(freewheel, forward)
        blocked, across = self._blocked(t), self._across(t)
        raw_duty = duty_asked(t)
        return Cycle(
            rise=across - on_drop,
            fall=blocked + diode_drop - across,
            total=blocked + diode_drop - on_drop,
            coil=coil,
            raw_duty=raw_duty,
            duty=raw_duty * enabled(t) * step(self._supply(t) / FED),
            on_drop=on_drop,
            diode_drop=diode_drop,
            two_lf=None if henries is None else 2.0 * t.p.frequency * henries,
            filling=None if henries is None else self._filling(t, coil) - on_drop,
        )

    def _filling(self, t: Terms, coil: Number) -> Number:
        """Voltage across the closed switch, if it had no drop, and the coil's change were none."""
        link = t.linked("coil")
        assert link is not None
        start, end = self.switch_ends
        far = link.v("one") + link.v("two") - t.v("switch")
        share = 1.0 if t.linked("coupling") is None else 0.5
        drop = share * coil * link.p.winding_resistance
        return (far - t.v(end) if start == "switch" else t.v(start) - far) - drop

    def _mean_flows(self, t: Terms, cycle: Cycle) -> None:
        freewheel = t.linked("freewheel")
        share = 1.0 if freewheel is None else cycle.switch_share
        through_switch = share * cycle.coil
        through_diode = cycle.coil - through_switch
        t.through(*self.switch_ends, through_switch)
        heat = self._across(t) * through_switch
        if freewheel is not None:
            self._past(t, freewheel, through_diode - passing(freewheel))
            # What the diode does not take of its way's power is left to the regulator.
            voltage = self._blocked(t) - self._across(t)
            heat = heat - (voltage + cycle.diode_drop) * through_diode
            # By itself it warms up by voltage times current at the means of its potentials.
            freewheel.flow(
                "junction",
                -cycle.diode_drop * through_diode - voltage * passing(freewheel),
            )
            freewheel.observe("current", through_diode)
            freewheel.observe("reverse_voltage", cycle.blocking)
        heat = (
            heat
            + self._lose(t, edge_loss(t, cycle.peak))
            + self._draw(t, own_current(t, enabled(t)))
        )
        dissipate(t, heat)
        t.observe("diode_current", through_diode)

    def _past(self, t: Terms, freewheel: Terms, current: Number) -> None:
        """Let a current flow from the coil to the output, or the other way round, as the diode."""
        sign = 1.0 if self.switch_ends[0] == "switch" else -1.0
        if t.linked("coupling") is None:
            t.flow("switch", sign * current)
        else:
            freewheel.flow(OTHER_END[self.diode_end], sign * current)
        freewheel.flow(self.diode_end, -sign * current)

    def _lose(self, t: Terms, current: Number) -> Number:
        """The loss of the edges, as a current from end to end past the switch pin; its heat [W]."""
        freewheel = t.linked("freewheel")
        if freewheel is None:
            return 0.0
        start, end = self.switch_ends
        blocked = self._blocked(t)
        lost = current * step(blocked)
        if t.linked("coupling") is not None:
            self._past(t, freewheel, -lost)
            t.through(start, end, lost)
        elif start == "switch":
            freewheel.flow(self.diode_end, lost)
            t.flow(end, -lost)
        else:
            t.flow(start, lost)
            freewheel.flow(self.diode_end, -lost)
        return blocked * lost

    def _draw(self, t: Terms, own: Number) -> Number:
        """Own current, that of the feedback pin and the leak of the switch; their heat [W]."""
        supply, sensed, switch = self._supply(t), self._sensed(t), t.v("switch") - t.v("ground")
        drawn = own * step(supply)
        bias = t.p.feedback_current * step(sensed)
        leak = SWITCH_LEAK * switch
        t.through("input", "ground", drawn)
        t.through("feedback", "ground", self.sense * bias)
        t.through("switch", "ground", leak)
        return supply * drawn + sensed * bias + switch * leak


def pins_of(supply: Pin) -> dict[str, Pin]:
    """Pins of either kind. supply: the role of its input pin."""
    return {
        "input": supply,
        "switch": Pin("switch"),
        "ground": Pin("ground"),
        "feedback": Pin("feedback"),
        "disable": Pin("enable", optional=True),
        **CASE,
    }
