"""The numerical engine by itself: circuits of parts, thousands of variants side by side.

    from railwright.engine import face as engine

    topology = engine.Topology.of(parts, ground="0")
    model = engine.Model(topology, nominal)
    lanes, shape = engine.flattened({("R1", "resistance"): ohms, ("V", "voltage"): volts})
    points = engine.operating_point(model, lanes, count)
    engine.shaped(points.potential("OUT"), shape)

Single faults are lanes as well: a topology may name joints that can be open and bridges that can
be there. They are system parameters, `joint_name` and `bridge_name`, nil where all is sound:

    topology = engine.Topology.of(parts, "0", joints=[("R1", "one")], bridges=[("OUT", "0")])
    faults = engine.single_faults(topology)
    lanes = engine.one_at_a_time(faults)
    points = engine.operating_point(engine.Model(topology, nominal), lanes, 1 + len(faults))
    points.unknown("R1", engine.joint_current("one"))

Analyses: `operating_point`, and `steady_states` where there are several; from a result of the
former, by way of `quiescent`: `linearise` for `response`, `loops`, `poles`, `noise` and
`sensitivities`; `transient`, `cycle` and `heat` for courses in time, and `cycle_sensitivities` of
the `Mean`, `Rms`, `Swing`, `Beginning` or `Period` of a cycle.
All quantities are in SI units, temperatures in kelvin.
"""

from railwright.engine.assembly import bridge_name, joint_name
from railwright.engine.cycle import Cycle, cycle
from railwright.engine.cycle_measures import Beginning, Mean, Period, Rms, Swing
from railwright.engine.cycle_sensitivity import cycle_sensitivities
from railwright.engine.faults import BRIDGED, OPEN, one_at_a_time, single_faults
from railwright.engine.heat import heat
from railwright.engine.lanes import flattened, shaped
from railwright.engine.linear import Linear, linearise
from railwright.engine.loop import loop, loops
from railwright.engine.model import Model
from railwright.engine.noise import noise, noise_in_band
from railwright.engine.operating_point import operating_point
from railwright.engine.poles import poles
from railwright.engine.ports import Given, Injected, Observed, Potential
from railwright.engine.quiescent import Quiescent, as_solved, quiescent
from railwright.engine.response import output_impedance, response
from railwright.engine.sensitivity import response_sensitivities, sensitivities
from railwright.engine.solutions import OperatingPoints
from railwright.engine.states import SteadyStates, steady_states
from railwright.engine.stimulus import PiecewiseLinear
from railwright.engine.topology import Aim, Crossing, Topology, joint_current, pin_node
from railwright.engine.transient import Course, Tolerance, transient

__all__ = [
    "BRIDGED",
    "OPEN",
    "Aim",
    "Beginning",
    "Course",
    "Crossing",
    "Cycle",
    "Given",
    "Injected",
    "Linear",
    "Mean",
    "Model",
    "Observed",
    "OperatingPoints",
    "Period",
    "PiecewiseLinear",
    "Potential",
    "Quiescent",
    "Rms",
    "SteadyStates",
    "Swing",
    "Tolerance",
    "Topology",
    "as_solved",
    "bridge_name",
    "cycle",
    "cycle_sensitivities",
    "flattened",
    "heat",
    "joint_current",
    "joint_name",
    "linearise",
    "loop",
    "loops",
    "noise",
    "noise_in_band",
    "one_at_a_time",
    "operating_point",
    "output_impedance",
    "pin_node",
    "poles",
    "quiescent",
    "response",
    "response_sensitivities",
    "sensitivities",
    "shaped",
    "single_faults",
    "steady_states",
    "transient",
]
