"""Write docs/gallery anew: what `railwright make` writes for supplies of different kinds.

Of each: the schematic and the panel as drawn, the layout guidance, and three pages of the report.
"""

from __future__ import annotations

from pathlib import Path

from railwright.circuit.design import catalogue_of, read
from railwright.make import every
from railwright.make.document import Job
from railwright.make.drill_template import DrillTemplate
from railwright.make.layout_guidance import LayoutGuidance
from railwright.make.schematic import Schematic
from railwright.pages.sheet_pdf import pages
from railwright.pages.whole_file import write_whole
from railwright.prove.run import prove
from railwright.surveys.operating_range import Choice

ROOT = Path(__file__).resolve().parent.parent
FOLDER = ROOT / "docs" / "gallery"
SUPPLIES = (
    "amplifier-minus-nine-volts",
    "bench-twelve-volts-limited",
    "panel-five-volts",
    "radio-bench-rail",
    "workshop-twelve-volts",
)
REPORT_PAGES = 3


def main() -> None:
    """Prove each, make its documents, keep the pictures."""
    for name in SUPPLIES:
        design = read(ROOT / "examples" / f"{name}.toml")
        job = Job(design, prove(design, nets=Choice()), catalogue_of(design))
        folder = FOLDER / name
        folder.mkdir(parents=True, exist_ok=True)
        for file, content in pictures(job).items():
            write_whole(folder / file, content)
            print(folder / file)


def pictures(job: Job) -> dict[str, bytes]:
    """File name -> picture."""
    guidance = LayoutGuidance().sheet(job)
    sheets = [document.sheet(job) for document in sorted(every(), key=lambda each: each.place)]
    report = pages([sheet for sheet in sheets if sheet])[:REPORT_PAGES]
    return {
        "schematic.svg": Schematic().files(job)["schematic.svg"],
        "panel.svg": DrillTemplate().files(job)["panel.svg"],
        "layout-guidance.png": pages([guidance])[0],
        **{f"report-{number}.png": page for number, page in enumerate(report, 1)},
    }


if __name__ == "__main__":
    main()
