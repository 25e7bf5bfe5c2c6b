"""Slow thermal transients: what is electrical follows at once, only heat is stored.

A heat sink warms up in minutes, a switching cycle takes microseconds. Here switching parts state
their means and every charge and flux counts as settled, so that steps may last as long as the
temperatures allow; hot parts are the different parts that they are, instant by instant.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from railwright.engine.assembly import AMBIENT
from railwright.engine.kernel import Announce
from railwright.engine.model import ROOM, Lanes, Model, Name
from railwright.engine.operating_point import operating_point
from railwright.engine.stimulus import PiecewiseLinear
from railwright.engine.transient import Course, Tolerance, transient
from railwright.engine.waveforms import Watch

Array = NDArray[np.float64]
SLOW = Tolerance(1e-4, 1e-3)
"""A thousandth of a kelvin is exact enough for what warms up."""


def heat(
    model: Model,
    lanes: Lanes,
    count: int,
    times: Array,
    start: Array | None = None,
    stimuli: Mapping[Name, PiecewiseLinear] | None = None,
    tolerance: Tolerance = SLOW,
    watch: Watch | None = None,
    announce: Announce | None = None,
) -> Course:
    """Temperatures of `count` lanes from times[0] to times[-1] (arguments as for `transient`).

    model: of a topology that warms up, inputs solved for included: a control holds its output
    while the parts drift. start: unknowns (row, lane), all at ambient temperature if None. Raises
    ValueError where nothing in the circuit has a heat capacity.
    """
    if not any(_capacity(model, lanes, e.ref) > 0.0 for e in model.topology.elements):
        raise ValueError(
            "nothing in this circuit stores heat: give a heat sink or another part its "
            "heat_capacity"
        )
    slow = Model(replace(model.topology, slow=True), model.nominal)
    begin = _cold(model, lanes, count) if start is None else start
    return transient(
        slow,
        lanes,
        count,
        times,
        begin,
        stimuli,
        tolerance=tolerance,
        watch=watch,
        announce=announce,
    )


def _capacity(model: Model, lanes: Lanes, ref: str) -> float:
    """Largest heat capacity that a part has in any lane [J/K]."""
    name = (ref, "heat_capacity")
    return float(np.max(lanes.get(name, model.nominal.get(name, 0.0))))


def _cold(model: Model, lanes: Lanes, count: int) -> Array:
    """Unknowns (row, lane) of the circuit when it is switched on, all at ambient temperature."""
    topology = model.topology
    held = Model(replace(topology, isothermal=True), model.nominal)
    points = operating_point(held, lanes, count)
    ambient = np.broadcast_to(np.asarray(lanes.get(AMBIENT, ROOM), float), (count,))
    known = held.topology.index
    rows = [
        points.unknowns[known[u.owner, u.name]] if (u.owner, u.name) in known else ambient
        for u in topology.unknowns
    ]
    return np.array(rows)
