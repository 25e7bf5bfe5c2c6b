"""Take the pictures of the documentation anew: `pictures.py [DESIGN]`, else the demo design.

docs/ledger.svg is the ledger as a terminal shows it, docs/report.png the top of the report as a
browser shows it: Chromium, found on the PATH or under the path in RAILWRIGHT_CHROMIUM.
"""

import io
import os
import shutil
import subprocess
import sys
import tempfile
from dataclasses import replace
from pathlib import Path

from rich.console import Console
from rich.terminal_theme import TerminalTheme

from railwright.circuit.design import read
from railwright.pages.ledger import Ledger
from railwright.pages.narrow import WIDEST
from railwright.pages.report import write_report
from railwright.pages.whole_file import write_whole
from railwright.prove.proof import Proof
from railwright.prove.run import prove

ROOT = Path(__file__).resolve().parent.parent
DEMO = ROOT / "examples" / "radio-bench-rail.toml"
SHOWN = 12
"""Findings in the picture of the ledger: the whole of it is too long for a page."""
DOCS = ROOT / "docs"
WIDTH, HEIGHT = 1280, 1500
BROWSERS = ("chromium", "chromium-browser")
FLAGS = (
    *("--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run"),
    *("--disable-background-networking", "--disable-component-update", "--disable-sync"),
    *("--hide-scrollbars", f"--window-size={WIDTH},{HEIGHT}"),
)
# Ink on paper, as in the report: foreground, background, then the eight colours of a terminal.
PAPER = TerminalTheme(
    (252, 251, 247),
    (29, 39, 51),
    [
        *((29, 39, 51), (150, 35, 15), (28, 90, 65), (109, 74, 0)),
        *((40, 70, 120), (91, 47, 135), (30, 90, 100), (77, 90, 102)),
    ],
)
# No frame, and no fonts fetched from elsewhere.
FORMAT = """\
<svg xmlns="http://www.w3.org/2000/svg" class="rich-terminal" viewBox="0 0 {width} {height}">
<style>
.{unique_id}-matrix {{ font: {char_height}px "DejaVu Sans Mono", Consolas, monospace; }}
{styles}
</style>
<defs>{lines}</defs>
<rect width="100%" height="100%" fill="#fcfbf7"/>
<g transform="translate(12, 12)">{backgrounds}<g class="{unique_id}-matrix">{matrix}</g></g>
</svg>
"""


def main() -> None:
    """Prove the design once, then take both pictures."""
    design = sys.argv[1] if len(sys.argv) > 1 else DEMO
    proof = prove(read(design), announce=print)
    DOCS.mkdir(exist_ok=True)
    write_whole(DOCS / "ledger.svg", ledger_picture(proof))
    report_picture(proof, DOCS / "report.png")


def ledger_picture(proof: Proof) -> str:
    """The ledger as an SVG."""
    console = Console(
        record=True, width=WIDEST, file=io.StringIO(), force_terminal=True, highlight=False
    )
    console.print(Ledger(replace(proof, findings=proof.ledger[:SHOWN])))
    return console.export_svg(title="", theme=PAPER, code_format=FORMAT, unique_id="ledger")


def report_picture(proof: Proof, path: Path) -> None:
    """The top of the report as a browser shows it."""
    named = os.environ.get("RAILWRIGHT_CHROMIUM")
    browser = named or next(filter(None, map(shutil.which, BROWSERS)), None)
    if browser is None:
        sys.exit(f"{path.name} needs Chromium: install it, or name it in RAILWRIGHT_CHROMIUM.")
    with tempfile.TemporaryDirectory() as folder:
        page = Path(folder) / "report.html"
        write_report(proof, page)
        profile = f"--user-data-dir={folder}/profile"
        command = (browser, *FLAGS, profile, f"--screenshot={path}", page.as_uri())
        subprocess.run(command, check=True, capture_output=True)


if __name__ == "__main__":
    main()
