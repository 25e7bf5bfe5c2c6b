"""A proof as a real one might come out, made without an engine: formulas and drawn samples."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from railwright.prove.proof import (
    Array,
    Cause,
    FaultRow,
    Finding,
    Looked,
    MarginMap,
    Place,
    Proof,
    Share,
    Took,
    Verdict,
)
from railwright.quantity import kelvin
from railwright.surveys.curves import Axis, Curves, Level, Line

HOSTILE = "<script>alert('R&D')</script>"
"""A name that must reach a page as text."""

_OUTPUT = np.linspace(3.3, 12.0, 6)
_LOAD = np.linspace(0.0, 1.0, 5)
_INPUT = np.array([18.0, 19.0, 20.0])
_AMBIENT = kelvin(np.array([10.0, 40.0]))
_AXES = {"output main": _OUTPUT, "load main": _LOAD, "input": _INPUT, "ambient": _AMBIENT}
_GRID = np.meshgrid(*_AXES.values(), indexing="ij")
_WORST = Place({"main": 12.0}, {"main": 1.0}, 18.0, kelvin(40.0))
_LOOKED = Looked(180, 2000, 31000, "default")
_CAUSES = (
    Cause("U2", "dropout", 0.61),
    Cause("RS1", "resistance", 0.22),
    Cause("D1", "drop", 0.09),
)


def _samples(mean: float, width: float) -> Array:
    return np.random.default_rng(1).triangular(mean - width, mean, mean + width, 2000)


def _headroom() -> Finding:
    output, load, source, ambient = _GRID
    margin = source - output - 2.0 - 1.9 * load - 0.004 * (ambient - 283.15) - 3.06
    return Finding(
        id="headroom.series",
        subject="U2",
        question="Does every series element keep the voltage across it that it needs?",
        verdict="falls short",
        because="U2 has 1.42 V across it and needs 2.5 V (12 V, 1 A, input 18 V, 40 °C).",
        source="dropout voltage against current and temperature, datasheet of the 317 type",
        unit="V",
        value=1.42,
        limit=2.5,
        margin=-1.08,
        reserve=-0.432,
        where=_WORST,
        passing=Share(0.3995, 0.378, 0.4213, 2000),
        looked=_LOOKED,
        causes=_CAUSES,
        assumed=("U2.dropout",),
        map=MarginMap(_AXES, margin),
        samples=_samples(-0.1, 0.95),
    )


def _junction() -> Finding:
    output, load, source, ambient = _GRID
    margin = 398.15 - ambient - 11.0 * load * (source - output) * 0.45
    return Finding(
        id="stress.junction",
        subject="U2",
        question="Does every junction stay below its temperature limit?",
        verdict="marginal",
        because="The junction of U2 reaches 117 °C; 125 °C is its limit.",
        source="maximum junction temperature, datasheet of the 317 type",
        unit="°C",
        value=kelvin(117.2),
        limit=kelvin(125.0),
        margin=7.8,
        reserve=0.078,
        where=Place({"main": 3.3}, {"main": 1.0}, 20.0, kelvin(40.0)),
        passing=Share(1.0, 0.9982, 1.0, 2000),
        looked=_LOOKED,
        causes=(Cause("HS1", "resistance", 0.8),),
        map=MarginMap(_AXES, margin),
        samples=_samples(12.0, 4.0),
    )


def _trip() -> Finding:
    return Finding(
        id="overload.carries",
        subject="main",
        question="Is the trip clear of every current that must be carried?",
        verdict="falls short",
        because="The trip can act at 109 mA already; 1.1 A must be carried.",
        source="need.output.overload.carry",
        unit="A",
        value=0.109,
        limit=1.1,
        margin=-0.991,
        reserve=-2.83,
        where=_WORST,
        passing=Share(0.0, 0.0, 0.0018, 2000),
        looked=_LOOKED,
        causes=(Cause("R9", "resistance", 1.0, "10 kΩ instead of 1 kΩ"),),
        map=MarginMap(
            {"output main": np.array([5.0]), "load main": _LOAD, "ambient": _AMBIENT},
            np.array([-0.98, -0.99] * 5),
        ),
        samples=_samples(-0.98, 0.01),
    )


def _accuracy() -> Finding:
    output, load, source, ambient = _GRID
    margin = 0.05 - 0.012 * load - 0.001 * (source - 19.0) + 0.0 * (output + ambient)
    margin[0, 0, 0, 0] = np.nan
    margin[-1] = np.inf
    return Finding(
        id="output.load-regulation",
        subject="main",
        question="Does the output stay where it was set when the load changes?",
        verdict="not proven",
        because="1 of 31 000 lanes could not be solved, first at 3.3 V, 0 A, input 18 V, 10 °C.",
        source="need.output.load_regulation",
        unit="V",
        value=0.263,
        limit=0.3,
        margin=0.037,
        reserve=0.123,
        where=_WORST,
        looked=_LOOKED,
        assumed=("U3.gain", "U2.dropout"),
        map=MarginMap(_AXES, margin),
        samples=np.append(_samples(0.04, 0.02), [np.nan, np.inf]),
        curves=(_step(), *_loop()),
    )


def _step() -> Curves:
    """A load step and the way back, with a gap and a level."""
    since = np.linspace(0.0, 900e-6, 200)
    dip = 5.0 - 0.2 * np.exp(-since / 80e-6) * np.cos(since / 40e-6)
    dip[50] = np.nan
    lines = [Line("load 100 mA to 800 mA", since, dip), Line("and back", since, 10.0 - dip)]
    up = Axis(f"terminals of {HOSTILE}", "V")
    return Curves(
        "Steps of the load", Axis("time since the step", "s"), up, lines, [Level("least", 4.7)]
    )


def _loop() -> tuple[Curves, Curves]:
    """Gain and phase of an integrator with a pole at 50 kHz, of which 20 kHz is the crossover."""
    frequency = np.geomspace(10.0, 1e6, 200)
    ratio = 20e3 / (1j * frequency) / (1.0 + 1j * frequency / 50e3)
    across = Axis("frequency", "Hz", logarithmic=True)
    gain = Line("", frequency, 20.0 * np.log10(np.abs(ratio)))
    phase = Line("", frequency, 180.0 + np.degrees(np.angle(ratio)))
    return (
        Curves("Loop through U2", across, Axis("gain", "dB"), [gain], [Level("unity", 0.0)]),
        Curves("", across, Axis("phase above -180°", "°"), [phase], below=True),
    )


def _wiring() -> Finding:
    return Finding(
        id="wiring.feedback",
        subject="U1, U2, U3, U4 ...",
        question="Does every regulator see its own output?",
        verdict="holds",
        because="Every feedback pin is reached from the output that it rules.",
        source="",
        looked=Looked(4, 0, 0, "default"),
    )


def _hostile() -> Finding:
    return replace(
        _junction(),
        id="stress.power",
        subject=HOSTILE,
        question=f"Does {HOSTILE} stay cool?",
        verdict="holds",
        because=f"{HOSTILE} takes 0.2 W of 0.6 W.",
        source=f"{HOSTILE}",
        unit="W",
        value=0.2,
        limit=0.6,
        margin=0.4,
        reserve=0.667,
        causes=(Cause(HOSTILE, HOSTILE, 0.4, HOSTILE),),
        assumed=(HOSTILE,),
        map=None,
    )


def fake_proof() -> Proof:
    """One finding of every sort, in no order."""
    return Proof(
        design="Radio bench rail",
        seed=1,
        findings=(_wiring(), _junction(), _headroom(), _accuracy(), _hostile(), _trip()),
        not_asked=(
            "main: ripple",
            "main: spikes in 20 MHz: left to measurement, since they depend on the layout",
            "stability of the loops, start-up and short circuit: no transients yet",
        ),
        cautions=(
            "Heat sinks get hot in use: let them cool before you touch them.",
            "Charge stays in C1 after switching off: discharge first.",
        ),
        took=Took(3.14, 180, 2000, 512000),
        faults=(
            FaultRow(
                "R4",
                "open",
                0.59,
                "ADJ from 10.8 V to 16 V",
                "main goes to 18.2 V, above 18 V",
                "I",
                "Q2 fires",
                {"main": 18.2},
                _WORST,
            ),
            FaultRow(HOSTILE, HOSTILE, 0.41, HOSTILE, HOSTILE, "IV", HOSTILE),
        ),
    )


def proof_with(*verdicts: Verdict) -> Proof:
    """A proof with one plain finding of each verdict."""
    findings = [replace(_wiring(), verdict=verdict) for verdict in verdicts]
    return replace(fake_proof(), findings=findings)
