"""Small-signal frequency responses: from an input or an injected current to any output."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from railwright.engine.linear import Linear
from railwright.engine.ports import Injected, Input, Output, Potential, transfers, unit_of

Array = NDArray[np.float64]
Complex = NDArray[np.complex128]
Mask = NDArray[np.bool_]


@dataclass(frozen=True)
class Response:
    """A response over lanes and frequencies; lanes that were not solved read not-a-number."""

    input: Input
    output: Output
    unit: str
    """Unit of the output; the response is this per unit of the input."""
    frequency: Array
    """[Hz] (frequency)."""
    value: Complex
    """(lane, frequency)."""
    solved: Mask

    @property
    def magnitude(self) -> Array:
        """(lane, frequency)."""
        return np.abs(self.value)

    @property
    def phase(self) -> Array:
        """Phase [°] (lane, frequency), without jumps from one frequency to the next."""
        return np.degrees(np.unwrap(np.angle(self.value), axis=1))


def response(
    linear: Linear, given: Input, output: Output, frequencies: Array | Sequence[float]
) -> Response:
    """Response of an output to an input at frequencies [Hz]; 0 Hz is allowed.

    Raises NoSuchPort for what the circuit does not have, ValueError for frequencies that are
    no such.
    """
    wanted = frequencies_of(frequencies)
    found, solved = transfers(linear, [given], output, wanted)
    return Response(given, output, unit_of(linear, output), wanted, found[:, 0], solved)


def output_impedance(
    linear: Linear, plus: str, minus: str, frequencies: Array | Sequence[float]
) -> Response:
    """Impedance [Ω] that is met between two nets: voltage per ampere that is driven in."""
    return response(linear, Injected(plus, minus), Potential(plus, minus), frequencies)


def frequencies_of(frequencies: Array | Sequence[float]) -> Array:
    """Frequencies [Hz] as an array; ValueError where they are none."""
    wanted = np.atleast_1d(np.asarray(frequencies, float))
    if wanted.ndim != 1 or not wanted.size or not (np.isfinite(wanted) & (wanted >= 0)).all():
        raise ValueError(
            "wanted is a list of frequencies in Hz, finite and none of them negative; "
            f"found {frequencies!r}"
        )
    return wanted
