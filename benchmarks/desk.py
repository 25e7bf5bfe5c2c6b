"""The page in a headless Chromium: how soon the map follows what is typed, and how much it keeps.

    python benchmarks/desk.py [--quick] [--edits N] [--json FILE]

The demo is opened and one value after another is typed. From the key press to the redrawn estimate
the page's own clock counts, to the verified map the time until the estimate is gone. JSON keys:
edits, points, p50_ms, p95_ms, worst_ms, verified (how many were waited for), verified_p50_s,
verified_p95_s, page_mb and desk_mb (memory after a tenth of the edits, and at the end), machine,
commit.
"""

from __future__ import annotations

import shutil
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

from _report import ROOT, arguments, as_json, commit, machine, write

# In place of this folder, whose files would stand before the tests' rooms of the same names.
sys.path[0] = str(ROOT / "tests")

import numpy as np  # noqa: E402
from desk.browser import browser, browser_path, desk  # noqa: E402

EDITS, QUICK_EDITS = 1000, 60
VERIFIED, QUICK_VERIFIED = 30, 4
DEMO = "radio-bench-rail.toml"
PART, VALUE = "R2", "resistance"
LONG = 120_000  # ms
WATCH = """
() => {
  window.took = [];
  document.addEventListener("input", () => { window.typed = performance.now(); }, true);
  new MutationObserver(() => {
    if (window.typed) { window.took.push(performance.now() - window.typed); window.typed = 0; }
  }).observe(document.querySelector("canvas"), { attributeFilter: ["data-drawn"] });
}
"""


def resident(pid: int) -> float:
    """Memory of a process [MB]; not-a-number where the machine does not tell."""
    try:
        lines = Path(f"/proc/{pid}/status").read_text(encoding="ascii").splitlines()
    except OSError:
        return float("nan")
    kilobytes = next((line.split()[1] for line in lines if line.startswith("VmRSS")), "nan")
    return round(float(kilobytes) / 1024, 1)


def heap(page: Any) -> float:
    """What the page's script holds after a collection [MB]."""
    session = page.context.new_cdp_session(page)
    session.send("HeapProfiler.collectGarbage")
    used: float = session.send("Runtime.getHeapUsage")["usedSize"]
    session.detach()
    return round(used / 1e6, 1)


def typed(page: Any, edits: int, verified: int, pid: int) -> dict[str, Any]:
    """Type values, now and then waiting until they are verified."""
    page.wait_for_selector("canvas[data-drawn]", timeout=LONG)
    page.locator(".parts").get_by_role("button", name=PART, exact=True).click()
    box = page.get_by_label(f"{VALUE} of {PART}", exact=True)
    with page.expect_response(lambda answer: "/api/slopes" in answer.url, timeout=LONG):
        box.focus()
    number, unit = box.input_value().split()
    page.evaluate(WATCH)
    waits, memory = [], []
    every = max(1, edits // verified)
    for edit in range(edits):
        change = 1.0 + 0.1 * np.sin(0.7 * edit)
        box.fill(f"{float(number) * change:.4g} {unit}")
        page.wait_for_timeout(30)
        if edit % every == every - 1:
            began = time.perf_counter()
            page.wait_for_selector(".stamp", state="detached", timeout=LONG)
            waits.append(time.perf_counter() - began)
            page.wait_for_timeout(700)  # slopes of the new map
        if edit + 1 in (max(1, edits // 10), edits):
            memory.append((heap(page), resident(pid)))
    took = page.evaluate("window.took")
    points = page.evaluate(
        "fetch('api/whole').then((a) => a.json())"
        ".then((w) => Object.values(w.map.axes).reduce((n, axis) => n * axis.length, 1))"
    )
    return {
        "edits": edits,
        "points": points,
        "p50_ms": round(float(np.percentile(took, 50)), 1),
        "p95_ms": round(float(np.percentile(took, 95)), 1),
        "worst_ms": round(max(took), 1),
        "estimates": len(took),
        "verified": len(waits),
        "verified_p50_s": round(float(np.percentile(waits, 50)), 2),
        "verified_p95_s": round(float(np.percentile(waits, 95)), 2),
        "page_mb": [page_mb for page_mb, _ in memory],
        "desk_mb": [desk_mb for _, desk_mb in memory],
    }


def main() -> None:
    """Serve, open, type, tell."""
    parser = arguments(__doc__, f"{QUICK_EDITS} edits only")
    parser.add_argument("--edits", type=int, default=EDITS, help="how many otherwise")
    asked = parser.parse_args()
    if browser_path() is None:
        print(
            "There is no Chromium on this machine: nothing was measured. Install one, or name it"
            " in an environment variable, RAILWRIGHT_CHROMIUM."
        )
        return
    edits = QUICK_EDITS if asked.quick else asked.edits
    with tempfile.TemporaryDirectory() as folder:
        shutil.copy(ROOT / "examples" / DEMO, folder)
        with desk(Path(folder), DEMO) as (address, serving), browser() as chromium:
            page = chromium.new_page(viewport={"width": 1280, "height": 720})
            page.goto(address)
            verified = QUICK_VERIFIED if asked.quick else VERIFIED
            found = typed(page, edits, verified, serving.pid)
    found |= {"machine": machine(), "commit": commit()}
    write(found, asked.json)
    print(as_json(found))


if __name__ == "__main__":
    main()
