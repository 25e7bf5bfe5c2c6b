"""Write docs/gallery anew: what `railwright make` writes for supplies of different kinds.

Of each: the schematic and the panel as drawn, and of the report the first pages of the
specification, the layout guidance, the bring-up and the proof.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from railwright.circuit.design import catalogue_of, read
from railwright.make.bringing_up import BringingUp
from railwright.make.document import Document, Job
from railwright.make.drill_template import DrillTemplate
from railwright.make.layout_guidance import LayoutGuidance
from railwright.make.proof_sheet import ProofSheet
from railwright.make.schematic import Schematic
from railwright.make.specification import Specification
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
PAGES: Mapping[str, Document] = {
    "specification": Specification(),
    "layout-guidance": LayoutGuidance(),
    "bring-up": BringingUp(),
    "proof": ProofSheet(),
}


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
    sheets = {name: document.sheet(job) for name, document in PAGES.items()}
    return {
        "schematic.svg": Schematic().files(job)["schematic.svg"],
        "panel.svg": DrillTemplate().files(job)["panel.svg"],
        **{f"{name}.png": pages([sheet])[0] for name, sheet in sheets.items() if sheet},
    }


if __name__ == "__main__":
    main()
