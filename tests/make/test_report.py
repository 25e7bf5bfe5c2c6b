"""The report that binds all documents, and that they follow the design and its proof."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from make.jobs import CASES, FOLDER, KNOB, job_of, judged
from make.sound_documents import wrong
from pages.fake_proof import fake_proof

from railwright.circuit.design import catalogue_of, read, read_text
from railwright.circuit.writer import set_value
from railwright.files.source import source_text
from railwright.make import every
from railwright.make.document import Job
from railwright.make.drill_template import DrillTemplate
from railwright.make.harness import harness
from railwright.make.specification import Specification
from railwright.make.written import documents
from railwright.pages.sheet import Grid, Sheet, Words
from railwright.pages.sheet_html import html
from railwright.prove.run import prove
from railwright.surveys.depth import QUICK
from railwright.surveys.operating_range import Choice


def cells(sheet: Sheet) -> list[tuple[str, ...]]:
    """All rows of all tables."""
    grids = [b for section in sheet.sections for b in section.blocks if isinstance(b, Grid)]
    return [tuple(row) for grid in grids for row in grid.rows]


def test_every_document_is_bound_in_its_place() -> None:
    job = job_of(KNOB)
    made = documents(job.design, job.proof)
    page = made.files["report.html"].decode()
    names = [d.name for d in sorted(every(), key=lambda d: d.place) if d.sheet(job)]
    assert names[0] == "Specification"
    assert names[-1] == "Proof"
    places = [page.index(f"<h1>{name}</h1>") for name in names]
    assert places == sorted(places)
    assert made.files["report.pdf"].startswith(b"%PDF")
    assert made.unmade == {}


def test_cautions_stand_on_the_first_page() -> None:
    job = job_of(KNOB)
    job = replace(job, proof=replace(job.proof, cautions=["the input can kill"]))
    sheet = Specification().sheet(job)
    page = html([sheet])
    assert page.index("the input can kill") < page.index("Takes")


def test_the_specification_tells_what_the_need_says_and_the_proof_found() -> None:
    job = job_of(KNOB)
    like = replace(
        fake_proof().findings[0],
        id="ripple.output",
        subject="main",
        value=861e-6,
        limit=3e-3,
        margin=2.139e-3,
        unit="V",
    )
    job = replace(job, proof=replace(job.proof, findings=(like,)))
    rows = cells(Specification().sheet(job))
    assert ("voltage", "5 V to 12 V") in rows
    ripple = next(row for row in rows if row[0] == "ripple")
    assert ripple[1:3] == ("at most 3 mV", "861 µV")
    assert len(ripple) == 4  # the fifth is left to be measured


def test_what_solving_left_is_told_as_nil() -> None:
    job = job_of(KNOB)
    like = replace(fake_proof().findings[0], id="output.reached", subject="main", limit=0.1)
    for value, told in ((3e-12, "0 V"), (-3e-12, "0 V"), (2e-6, "2 µV")):
        found = replace(like, value=value, margin=0.1 - value, unit="V")
        rows = cells(
            Specification().sheet(replace(job, proof=replace(job.proof, findings=(found,))))
        )
        assert next(row for row in rows if row[0] == "reached")[2] == told


def test_what_is_open_is_promised_to_nobody() -> None:
    job = job_of(KNOB)
    like = replace(fake_proof().findings[0], verdict="not proven", because="No lane was solved.")
    proof = replace(job.proof, findings=(like,), not_asked=["spikes in 20 MHz"])
    page = html([Specification().sheet(replace(job, proof=proof))])
    assert "No lane was solved." in page
    assert "spikes in 20 MHz" in page
    nothing = replace(job.proof, findings=(), not_asked=())
    open_ = Specification().sheet(replace(job, proof=nothing)).sections[-1]
    assert list(open_.blocks) == [Words("Nothing.")]


def test_documents_follow_a_changed_value() -> None:
    path = KNOB
    text = set_value(source_text(path), "R1", "resistance", "110 Ω")
    changed = read_text(text, path.name, path=path)
    job = job_of(path)
    before = documents(job.design, job.proof).files
    after = documents(changed, job.proof).files
    for name in ("bill-of-materials.csv", "report.html", "report.pdf"):
        assert before[name] != after[name]
    assert "110 Ω" in after["bill-of-materials.csv"].decode("utf-8-sig")
    assert "110 Ω" in after["report.html"].decode()


def test_every_document_follows_one_value_of_one_part() -> None:
    text = set_value(source_text(KNOB), "R1", "resistance", "110 Ω")
    before, after = (
        Job(design, prove(design, depth=QUICK, nets=Choice()), catalogue_of(design))
        for design in (read(KNOB), read_text(text, KNOB.name, path=KNOB))
    )
    for document in every():
        files = [document.files(job) for job in (before, after)]
        same = document.sheet(before) == document.sheet(after) and files[0] == files[1]
        assert same == isinstance(document, DrillTemplate), document.name  # it says of no value
    # The knob carries what the regulator's reference sends through R1: 91 Ω before, 110 Ω after.
    seen = [{wire.start.told: wire.current for wire in harness(job)} for job in (before, after)]
    ratio = (seen[1]["RV1 one"] or 0.0) / (seen[0]["RV1 one"] or 1.0)
    assert ratio == pytest.approx(91.0 / 110.0, rel=0.01)


def test_documents_follow_what_the_proof_found() -> None:
    job = judged(job_of(KNOB), "J1 rated_current", value=1.0, limit=12.0, unit="A")
    more = judged(job_of(KNOB), "J1 rated_current", value=3.0, limit=12.0, unit="A")
    before, after = (documents(each.design, each.proof).files for each in (job, more))
    for name in ("bill-of-materials.csv", "harness.csv", "report.html"):
        assert before[name] != after[name]


@pytest.mark.parametrize(
    "path",
    [
        FOLDER / "amplifier-minus-nine-volts.toml",
        FOLDER / "workshop-twelve-volts.toml",
        CASES / "comparators-above-their-range.toml",
        CASES / "gate-without-a-zener.toml",
    ],
    ids=lambda path: path.stem,
)
def test_everything_is_made_of_other_supplies_too(path: Path) -> None:
    job = job_of(path)
    assert wrong(documents(job.design, job.proof), job.design.circuit) == []


def test_documents_that_are_not_sound_are_told() -> None:
    job = job_of(KNOB)
    made = documents(job.design, job.proof)
    circuit = job.design.circuit
    assert wrong(made, circuit) == []

    def spoilt(name: str, old: bytes, new: bytes) -> list[str]:
        content = made.files[name]
        assert old in content
        return wrong(replace(made, files={**made.files, name: content.replace(old, new)}), circuit)

    without = {name: each for name, each in made.files.items() if name != "harness.csv"}
    assert wrong(replace(made, files=without), circuit) == ["not there: harness.csv"]
    assert spoilt("bill-of-materials.csv", b"F1", b"F2")
    assert spoilt("connections.csv", b"BRICK", b"BRACK")
    assert spoilt("panel.svg", b'viewBox="0 0 ', b'viewBox="0 0 2')
    assert spoilt("report.html", b"<h1>Harness</h1>", b"")
    assert spoilt("report.html", b"<figure>", b'<img src="https://example.org/a.png">')
    assert spoilt("schematic.svg", b'class="wire"', b'class="wir"')
