"""Does mending find what is wrong with built supplies, and leave alone what is none?

    python benchmarks/faultfinding.py [--quick] [--json FILE] [--kept FILE] [--seed N]

Hidden supplies of three designs (the demo: a tracking step-down ahead of a linear regulator with a
trip; a step-down alone; a linear bench supply with amplifiers and a current limit), each with parts
drawn from their spread and one fault drawn by the weights of the suspects. A fault has a value of
its own, mostly none that the finder has looked at: a resistor 3.3 times too large, a leak of any
size. They are solved on plain numpy (`_built`), the finder's predictions by compiled code. A meter
of 1 % and 2 counts in 2000 is off by any share of that in each reading. At most six readings are
taken, each where the finder asks for it: direct voltages and currents, with and without a load,
resistances without power, and that of a part of two pins of which a lead is lifted.

A fault can be found where it brings any of these readings but the last, its meter being right,
outside of what the healthy supplies of the study read there (least to greatest), and more than the
meter's error beyond. This is decided on the hidden supply alone, whatever the finder thinks. What
comes to no rest on the reference path cannot be read, and is drawn anew. Both are counted.

The true fault is found first where the first suspect is about the same thing; a group that no
reading in reach tells apart adds one over its size, and counts among the first three as far as
three of its members are. A group of more than three adds nothing, unless each of its members, put
into the very supply on the reference path, gives the same readings everywhere, within the meter's
errors.

JSON keys: faults, first, first_three, healthy, called_faulty (counts, a group adding its share);
readings_mean; round_s (a round of all suspects of the demo), suspects and samples in it; intervals
(Wilson, 95 %); by_design; hidden (drawn, but without effect on any reading), restless; seconds,
seed, machine, commit. Published anchor for linear filters with tolerances: 93.9 to 95.5 %
(PMC10526784).

The full study takes long. With --kept every case is added to a file as it is done; run again at the
same seed and commit, those in it are not done again.
"""

from __future__ import annotations

import json
import time
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

import numpy as np
from _built import Built, Fault, drawn
from _report import ROOT, arguments, as_json, commit, machine, write
from numpy.typing import NDArray
from scipy.stats import binomtest

from railwright.bench.reading import ALONE, Meter, Reading
from railwright.circuit.design import read
from railwright.mend.diagnosis import Diagnosis, Finder
from railwright.mend.predicted import Round, Supply
from railwright.surveys.suspects import Suspect, Variant

Array = NDArray[np.float64]
DESIGNS = ("radio-bench-rail", "panel-five-volts", "bench-twelve-volts-limited")
FULL, QUICK = (140, 170), (20, 20)
"""Faults that can be found, and healthy supplies, of each design."""
WINDOW = 300
"""Healthy supplies of each design that tell what a healthy one reads."""
BATCH = 24
"""Faults that are drawn and solved side by side."""
MOST_READINGS, MOST_ALIKE = 6, 3
NONE = Fault(0, Variant((), 1.0), "nothing wrong")
METER = Meter(share=0.01, counts=2.0, of=2000.0)


@dataclass(frozen=True)
class Case:
    """One supply, and what was said of it."""

    design: str
    seed: int
    fault: str
    found: bool
    """Whether it can be found."""
    rests: bool
    first: float = 0.0
    first_three: float = 0.0
    faulty: bool = False
    """Whether it was called faulty."""
    readings: int = 0
    said: str = ""


class Study:
    """Hidden supplies of one design and their finder."""

    def __init__(self, name: str, seed: int) -> None:
        self.name, self.seed = name, seed
        self.supply = Supply(read(ROOT / "examples" / f"{name}.toml"))
        self.finder = Finder(self.supply, Round(self.supply))
        self.suspects: Sequence[Suspect] = self.supply.suspects

    def healthy(self, count: int) -> tuple[list[Case], Array, Array]:
        """Healthy supplies, and the least and greatest that they read (place)."""
        total = max(count, WINDOW)
        seeds = range(self.seed + 500_000, self.seed + 500_000 + total)
        rows = Built(self.supply, seeds, [NONE] * total).readings
        cases = []
        for seed, row in zip(seeds[:count], rows[:count], strict=True):
            if np.isfinite(row).all():
                found, taken = self.session(row, seed)
                first = found.ranked[0].suspect is self.suspects[0]
                faulty = not first and self.suspects[0] not in found.group
                said = found.ranked[0].words
                cases.append(
                    Case(self.name, seed, NONE.words, False, True, 0, 0, faulty, taken, said)
                )
        return cases, np.nanmin(rows, axis=0), np.nanmax(rows, axis=0)

    def faults(self, low: Array, high: Array, count: int, first: int = 0) -> Iterator[Case]:
        """Faulty supplies until so many of them can be found; first: of what batch to begin."""
        done = 0
        while done < count:
            start = self.seed + first * BATCH
            rng = np.random.default_rng([start, 17])
            faults = [drawn(self.suspects, rng) for _ in range(BATCH)]
            seeds = range(start, start + BATCH)
            rows = Built(self.supply, seeds, faults).readings
            for seed, fault, row in zip(seeds, faults, rows, strict=True):
                case = self.judged(seed, fault, row, low, high)
                done += case.found
                yield case
            first += 1

    def judged(self, seed: int, fault: Fault, row: Array, low: Array, high: Array) -> Case:
        """What the finder says of a supply that reads a row."""
        if not np.isfinite(row).all():
            return Case(self.name, seed, fault.words, False, False)
        error = np.array([METER.error(float(v)) for v in row])
        in_circuit = [not place.under.endswith(ALONE) for place in self.supply.places]
        if not ((row < low - error) | (row > high + error))[in_circuit].any():
            return Case(self.name, seed, fault.words, False, True)
        found, taken = self.session(row, seed)
        first, three = self.score(found, fault, seed, row)
        said = ", ".join(f"{r.words} {r.probability:.2f}" for r in found.ranked[:3])
        return Case(self.name, seed, fault.words, True, True, first, three, True, taken, said)

    def score(self, found: Diagnosis, fault: Fault, seed: int, row: Array) -> tuple[float, float]:
        """How far the fault is the first, and among the first three."""
        true = self.suspects[fault.suspect]
        size = len(found.group)
        if true in found.group:
            if size > MOST_ALIKE and not self.inseparable(found, seed, row):
                return 0.0, 0.0
            return 1.0 / size, min(1.0, MOST_ALIKE / size)
        return 0.0, float(true in [r.suspect for r in found.ranked[:MOST_ALIKE]])

    def inseparable(self, found: Diagnosis, seed: int, row: Array) -> bool:
        """Whether every suspect of a group reads as this supply does, everywhere."""
        words = {r.suspect.words: r.variant for r in found.ranked if r.suspect in found.group}
        faults = [
            Fault(self.suspects.index(s), words[s.words], s.words)
            for s in found.group
            if s is not self.suspects[1]
        ]
        rows = Built(self.supply, [seed] * len(faults), faults).readings
        error = np.array([METER.error(float(v)) for v in row])
        return bool((np.abs(rows - row) <= 2.0 * error).all())

    def session(self, row: Array, seed: int) -> tuple[Diagnosis, int]:
        """Readings where the finder asks for them, and what it says at the end."""
        rng = np.random.default_rng([seed, 5])
        taken: list[Reading] = []
        while len(taken) < MOST_READINGS:
            place = self.finder.next_place(taken, METER)
            if place is None:
                break
            value = float(row[self.supply.places.index(place)])
            value += METER.error(value) * rng.uniform(-1.0, 1.0)
            taken.append(Reading("", place, value, METER.error(value)))
        return self.finder.diagnose(taken, METER), len(taken)


def round_of(name: str) -> dict[str, float]:
    """Seconds of a round of all suspects, in both conditions, once its code is compiled."""
    supply = Supply(read(ROOT / "examples" / f"{name}.toml"))
    began, worked = time.perf_counter(), time.process_time()
    found = Round(supply, 2)
    return {
        "round_s": round(time.perf_counter() - began, 2),
        "round_cpu_s": round(time.process_time() - worked, 2),
        "suspects": len(supply.suspects),
        "samples": found.samples,
    }


def kept(file: Path | None, seed: int) -> list[Case]:
    """Cases of this seed and commit that were done before."""
    if file is None or not file.exists():
        return []
    lines = [json.loads(line) for line in file.read_text("utf-8").splitlines() if line[-1:] == "}"]
    own = [each for each in lines if (each["commit"], each["seed"]) == (commit(), seed)]
    return [Case(**each["case"]) for each in own]


def interval(count: float, of: int) -> list[float]:
    """95 % by Wilson; a count that groups made uneven is rounded down."""
    found = binomtest(int(count), of).proportion_ci(0.95, method="wilson")
    return [round(float(found.low), 4), round(float(found.high), 4)]


def figures(cases: Sequence[Case]) -> dict[str, Any]:
    """Counts over cases."""
    healthy = [c for c in cases if c.fault == NONE.words]
    faulty = [c for c in cases if c.fault != NONE.words]
    seen = [c for c in faulty if c.found]
    first, three = sum(c.first for c in seen), sum(c.first_three for c in seen)
    called = sum(c.faulty for c in healthy)
    return {
        "faults": len(seen),
        "first": round(first, 2),
        "first_three": round(three, 2),
        "healthy": len(healthy),
        "called_faulty": called,
        "readings_mean": round(float(np.mean([c.readings for c in seen])), 2),
        "hidden": sum(c.rests and not c.found for c in faulty),
        "restless": sum(not c.rests for c in faulty),
        "intervals": {
            "first": interval(first, len(seen)),
            "first_three": interval(three, len(seen)),
            "called_faulty": interval(called, len(healthy)),
        },
    }


def main() -> None:
    """Hide faults, find them, count."""
    parser = arguments(__doc__, f"{QUICK[0]} faults and {QUICK[1]} healthy supplies of each design")
    parser.add_argument("--kept", type=Path, metavar="FILE", help="cases, added one by one")
    parser.add_argument("--seed", type=int, default=7_000_000, help="of all supplies")
    parser.add_argument("--faults", type=int, help="faults of each design, in place of all")
    parser.add_argument("--supplies", type=int, help="healthy supplies of each, in place of all")
    asked = parser.parse_args()
    began = time.perf_counter()
    faults, healthy = QUICK if asked.quick else FULL
    faults, healthy = asked.faults or faults, asked.supplies or healthy
    before = kept(asked.kept, asked.seed)
    cases: list[Case] = []
    for name in DESIGNS:
        study = Study(name, asked.seed)
        sound, low, high = study.healthy(healthy)
        print(f"{name}: {sum(c.faulty for c in sound)} of {len(sound)} called faulty", flush=True)
        own = [c for c in before if c.design == name]
        own = own[: len(own) // BATCH * BATCH]  # of a batch that was cut short nothing counts
        cases += [*sound, *own]
        left = faults - sum(c.found for c in own)
        batches = len(own) // BATCH
        for case in study.faults(low, high, left, batches) if left > 0 else ():
            cases.append(case)
            if case.found and case.first < 1.0:
                print(f"{case.first:.2f} {name} {case.fault} | {case.said}", flush=True)
            if asked.kept:
                line = {"commit": commit(), "seed": asked.seed, "case": asdict(case)}
                with asked.kept.open("a", encoding="utf-8") as file:
                    file.write(json.dumps(line) + "\n")
    found = {
        **figures(cases),
        **round_of(DESIGNS[0]),
        "by_design": {n: figures([c for c in cases if c.design == n]) for n in DESIGNS},
        "misses": [asdict(c) for c in cases if c.found and c.first < 1.0 / MOST_ALIKE],
        "seconds": round(time.perf_counter() - began, 1),
        "seed": asked.seed,
        "machine": machine(),
        "commit": commit(),
    }
    print(as_json({k: v for k, v in found.items() if k != "misses"}))
    write(found, asked.json)


if __name__ == "__main__":
    main()
