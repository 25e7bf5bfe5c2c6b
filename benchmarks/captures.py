"""How long does a capture of ten million rows take, and how much memory, from file to findings?

    python benchmarks/captures.py [--quick] [--json FILE] [--rows N]

Each layout is read and analysed in a process of its own (Linux only): ripple in its band, spikes,
spectrum, and what a step does, less the scope's own where a channel has that. JSON keys: runs
(layout, rows, channels, megabytes: of the file, read_s, analysed_s, seconds: both, processor_s: of
all cores together, peak_mb: largest resident memory of the process, before_mb: of it before,
ripple_off, spectrum_off, deviation_off, settled_off: how far the findings are off what the waves
were computed with, relative, spikes [V]), limit_s, limit_mb, within, load (of the machine, before
and after: more than it has cores means that others took their share of the time), seed, machine,
commit.
"""

from __future__ import annotations

import json
import os
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np
from _report import arguments, as_json, commit, machine, write
from numpy.typing import NDArray

Array = NDArray[np.float64]
SEED = 1
ROWS, QUICK_ROWS = 10_000_000, 1_000_000
LIMIT_S, LIMIT_MB = 5.0, 1536.0
STEP = 40e-9
CLOCK, RIPPLE = 150e3, 20e-3
"""Hz of a triangle, and V of it from peak to peak."""
BEFORE, SAG, TAU, WITHIN = 0.25, 0.3, 2e-3, 10e-3
"""Share of the capture before the step; V by which it goes down, s in which it comes back, and V
within which it counts as settled."""
NOISE = 1e-3
AT_ONCE = 250_000


def waves(first: int, count: int, rows: int, rng: np.random.Generator) -> Array:
    """Time, output with step and ripple, switching node, current, the scope alone (column)."""
    time = STEP * (np.arange(first, first + count) - BEFORE * rows)
    phase = (time * CLOCK) % 1.0
    triangle = RIPPLE * (np.abs(2.0 * phase - 1.0) - 0.5)
    sag = np.where(time >= 0.0, SAG * np.exp(-np.maximum(time, 0.0) / TAU), 0.0)
    noise = NOISE * rng.standard_normal((2, count))
    return np.array(
        [time, 12.0 + triangle - sag + noise[0], 19.0 * (phase < 0.6), 1.0 + triangle, noise[1]]
    ).T


LAYOUTS: Mapping[str, tuple[str, str, tuple[int, ...], bool]] = {
    "time and one channel": ("Time (s),OUT (V)", ",", (0, 1), False),
    "decimal comma": ("Time (s);OUT (V)", ";", (0, 1), True),
    "header of settings": (
        "Model,scope of a shed\nRecord Length,{rows}\nSample Interval,4E-08\nCoupling,DC\n\n"
        "TIME,OUT\n(s),(V)", ",", (0, 1), False,
    ),
    "no time column": ("Sample Interval,4E-08\nOUT", ",", (1,), False),
    "four channels": (
        "Time (s),OUT (V),SW (V),I (A),JOINED (V)", ",", (0, 1, 2, 3, 4), False,
    ),
}  # fmt: skip
"""Header, delimiter, columns, and whether decimals have a comma."""


def written(path: Path, layout: str, rows: int) -> None:
    """A file of a layout."""
    import polars

    header, delimiter, columns, comma = LAYOUTS[layout]
    rng = np.random.default_rng(SEED)
    with path.open("wb") as file:
        file.write((header.format(rows=rows) + "\n").encode())
        for first in range(0, rows, AT_ONCE):
            table = waves(first, min(AT_ONCE, rows - first), rows, rng)[:, columns]
            text = polars.DataFrame(table).write_csv(
                include_header=False,
                separator=delimiter,
                decimal_comma=comma,
                float_scientific=True,
                float_precision=9,
            )
            file.write(text.encode())


def child(path: Path) -> dict[str, Any]:
    """Read and analyse, in this process."""
    from railwright.bench.captures import read_capture
    from railwright.bench.waves import ripple, spectrum, spikes, step_response

    # Without a column of time a capture begins at nil.
    begins = path.stem == "no time column"
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0
    began, busy = time.perf_counter(), time.process_time()
    capture = read_capture(path)
    read = time.perf_counter() - began
    began = time.perf_counter()
    stepped = BEFORE * capture.count * STEP if begins else 0.0
    joined = capture.only("JOINED") if "JOINED" in capture.channels else None
    found = ripple(capture, CLOCK * 1.02, channel="OUT", joined=joined)
    highest = spikes(capture, "OUT", joined)
    frequencies, lines = spectrum(capture, "OUT")
    near = np.abs(frequencies - CLOCK) < 0.01 * CLOCK
    step = step_response(capture, WITHIN + RIPPLE, channel="OUT", at=stepped, joined=joined)
    analysed = time.perf_counter() - began
    return {
        "rows": capture.count,
        "channels": len(capture.channels),
        "read_s": round(read, 2),
        "analysed_s": round(analysed, 2),
        "seconds": round(read + analysed, 2),
        "processor_s": round(time.process_time() - busy, 2),
        "before_mb": round(before),
        "peak_mb": round(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0),
        "ripple_off": off(found.effective, RIPPLE / np.sqrt(12.0)),
        "spectrum_off": off(lines[near].max(), RIPPLE * 4.0 / np.pi**2 / np.sqrt(2.0)),
        "deviation_off": off(step.deviation, -(SAG + 0.5 * RIPPLE)),
        "settled_off": off(step.settled, TAU * np.log(SAG / (WITHIN + 0.5 * RIPPLE))),
        "spikes": highest,
    }


def off(found: float, wanted: float) -> float:
    """Relative."""
    return round(float(found / wanted - 1.0), 4)


def measured(folder: Path, layout: str, rows: int) -> dict[str, Any]:
    """The figures of one layout."""
    path = folder / f"{layout}.csv"
    written(path, layout, rows)
    size = path.stat().st_size / 1e6
    command = [sys.executable, __file__, "--child", str(path)]
    done = subprocess.run(command, stdout=subprocess.PIPE, text=True, check=True)
    path.unlink()
    return {"layout": layout, "megabytes": round(size), **json.loads(done.stdout)}


def main() -> None:
    """Measure, print, and write JSON where asked for."""
    parser = arguments(__doc__, f"{QUICK_ROWS} rows")
    parser.add_argument("--rows", type=int, help="of each file")
    parser.add_argument("--child", type=Path, help="analyse this file and print the figures")
    asked = parser.parse_args()
    if asked.child:
        print(json.dumps(child(asked.child)))
        return
    rows = asked.rows or (QUICK_ROWS if asked.quick else ROWS)
    runs, before = [], os.getloadavg()[0]
    with tempfile.TemporaryDirectory() as folder:
        for layout in LAYOUTS:
            runs.append(measured(Path(folder), layout, rows))
            print(as_json(runs[-1]), flush=True)
    within = all(run["seconds"] <= LIMIT_S and run["peak_mb"] <= LIMIT_MB for run in runs)
    print(f"{'within' if within else 'BEYOND'} {LIMIT_S:g} s and {LIMIT_MB:g} MB")
    figures = {
        "runs": runs,
        "limit_s": LIMIT_S,
        "limit_mb": LIMIT_MB,
        "within": within,
        "load": [round(busy, 1) for busy in (before, os.getloadavg()[0])],
        "seed": SEED,
        "machine": machine(),
        "commit": commit(),
    }
    write(figures, asked.json)


if __name__ == "__main__":
    main()
