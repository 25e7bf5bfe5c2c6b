"""Thermistor whose resistance falls as it warms: sensor and inrush limiter."""

from __future__ import annotations

from typing import Any

from railwright.devices.arithmetic import ROOM, exp, in_use, log, maximum, sqrt
from railwright.devices.device import JUNCTION_VALUES, Number, Rating, Terms, Value
from railwright.devices.thermistor import Thermistor

WARM = 358.15  # K; the other temperature of the usual beta, 85 °C
LEAST_CUBIC = 1e-15  # 1/K; next to nothing, but the root of the cubic divides by it
LEAST_SHARE = 0.05  # of 1/beta: what the linear coefficient keeps, beyond any real part


class NtcThermistor(Thermistor):
    """Resistance by the temperature of its own body, which its own power heats.

    1/T = A + B ln R + C (ln R)^3: Steinhart and Hart (1968), Calibration curves for thermistors,
    Deep-Sea Research 15. A and B follow from what makers publish, the resistance at 25 °C and
    beta between 25 and 85 °C; with C nil it is the beta equation of IEC 60539-1 (from memory),
    R = R25 exp(beta (1/T - 1/T25)).
    Faults and their shares: thermistors, RAC FMD-97 as commonly quoted (from memory).
    """

    kind = "ntc-thermistor"
    values = {
        "resistance": Value("Ω", "resistance at 25 °C, not heated by itself", least=1e-3),
        "beta": Value("K", "of the resistances at 25 and 85 °C", least=500.0, most=1e4),
        "cubic": Value("1/K", "C of Steinhart and Hart", default=0.0, least=0.0, most=1e-6),
        **JUNCTION_VALUES,
    }
    ratings = {
        "rated_power": Rating("W", "power", "thermistor", "power"),
        "rated_current": Rating("A", "current", "thermistor", "current", over="rms"),
        "junction_limit": Rating("°C", "junction", "thermistor", "junction"),
    }

    def constants(self, v: Any) -> dict[str, Number]:
        cubic = maximum(v.cubic, LEAST_CUBIC)
        cold, span = log(v.resistance), 1.0 / WARM - 1.0 / ROOM
        warm = cold + v.beta * span
        squares = cold * cold + cold * warm + warm * warm
        linear = maximum(1.0 / v.beta - cubic * squares, LEAST_SHARE / v.beta)
        return {
            "third": linear / (3.0 * cubic),
            "half": 0.5 / cubic,
            "offset": 1.0 / ROOM - (linear + cubic * cold * cold) * cold,
        }

    def equations(self, t: Terms) -> None:
        temperature = t.v("junction")
        inverse = 1.0 / in_use(temperature)
        conductance = exp(-_root(t.p.third, t.p.half * (inverse - t.p.offset)))
        self.carry(t, conductance)


def _root(third: Number, half: Number) -> Number:
    """The only x with x^3 + 3 third x = 2 half, third > 0 (Cardano).

    The difference of the two cube roots is written as a quotient: where the cubic term is small
    they are large and nearly alike.
    """
    size = abs(half)
    upper = exp(log(size + sqrt(half * half + third * third * third)) / 3.0)
    lower = third / upper
    return 2.0 * half / (upper * upper + third + lower * lower)
