"""The bill and the connection list against the circuit, and what is needed against the proof."""

from __future__ import annotations

import csv
import io
from collections import Counter
from dataclasses import replace
from pathlib import Path

import pytest
from make.jobs import EXAMPLES, job_of, judged

from railwright.catalogue.entry import Entry, KnownValue, KnownWindow
from railwright.make.bill import Bill, bill, needed_in_words
from railwright.make.connections import Connections
from railwright.make.needed import needed, substitutes
from railwright.quantity import Spread


def rows(content: bytes) -> list[dict[str, str]]:
    """What another program reads."""
    return list(csv.DictReader(io.StringIO(content.decode("utf-8-sig"), newline="")))


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_every_part_stands_in_one_line_of_the_bill(path: Path) -> None:
    job = job_of(path)
    lines = rows(Bill().files(job)["bill-of-materials.csv"])
    refs = [ref for line in lines for ref in line["refs"].split()]
    assert Counter(refs) == Counter(part.ref for part in job.design.circuit.parts)
    for line in lines:
        packages = {ref.rstrip("ABCD") for ref in line["refs"].split()}
        assert int(line["quantity"]) == len(packages)


def test_two_gates_of_one_package_are_bought_once() -> None:
    job = job_of(EXAMPLES[-1])
    line = next(item for item in bill(job) if item.part == "4011 type")
    assert line.refs == ("U6A", "U6B")
    assert line.pieces == 1


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_every_pin_stands_once_in_the_connections_and_its_wires_join_its_net(path: Path) -> None:
    job = job_of(path)
    files = Connections().files(job)
    listed = [(row["net"], row["ref"], row["pin"]) for row in rows(files["connections.csv"])]
    nets = job.design.circuit.nets
    assert Counter(listed) == Counter(
        (net, ref, pin) for net, ends in nets.items() for ref, pin in ends
    )
    joined: dict[str, list[set[str]]] = {}
    for row in rows(files["wires.csv"]):
        joined.setdefault(row["net"], []).append({row["from"], row["to"]})
    for net, ends in nets.items():
        links = joined.get(net, [])
        assert len(links) == len(ends) - 1
        reached = set(links[0]) if links else set()
        for link in links:  # in order: each one begins where another ended
            assert reached & link
            reached |= link
        assert len(reached) == (len(ends) if links else 0)


def test_what_is_needed_is_the_rating_of_which_the_policy_allows_what_is_seen() -> None:
    # 20 V seen, 25 V allowed of a rating of 50 V: the policy allows a half, so 40 V are needed.
    job = judged(job_of(EXAMPLES[-1]), "C1 rated_voltage", value=20.0, limit=25.0, unit="V")
    assert needed(job)["C1"]["rated_voltage"] == pytest.approx(40.0)
    line = next(item for item in bill(job) if "C1" in item.refs)
    assert needed_in_words(line) == "rated voltage 40 V"


def test_alike_parts_need_what_the_worst_of_them_does() -> None:
    job = job_of(EXAMPLES[-1])
    for ref, seen in (("R7", 0.01), ("R9", 0.05)):
        job = judged(job, f"{ref} rated_power", value=seen, limit=0.125, unit="W")
    line = next(item for item in bill(job) if "R7" in item.refs)
    assert "R9" in line.refs
    assert line.needed["rated_power"] == pytest.approx(0.1)


def test_hardly_anything_of_a_rating_is_not_told() -> None:
    job = judged(job_of(EXAMPLES[-1]), "C1 rated_voltage", value=1e-6, limit=25.0, unit="V")
    line = next(item for item in bill(job) if "C1" in item.refs)
    assert needed_in_words(line) == ""


def test_a_better_grade_substitutes_and_a_worse_one_does_not() -> None:
    job = job_of(EXAMPLES[-1])
    part = job.design.circuit.part("R1")
    names = substitutes(part, {}, job.catalogue)
    assert "film resistor 0.25 W 5 %" not in names
    own = job.catalogue[part.use]
    assert own.name == "film resistor 0.25 W 1 %"

    def other(**values: Spread) -> Entry:
        known = {name: replace(own.values[name], spread=spread) for name, spread in values.items()}
        return replace(own, name="other", values={**own.values, **known})

    def serves(entry: Entry, **needed: float) -> bool:
        return "other" in substitutes(part, needed, {own.name: own, "other": entry})

    finer = Spread.tolerance(1.0, 0.001, own.values["resistance"].spread.drift)
    assert serves(other(resistance=finer))
    assert not serves(other(resistance=Spread.tolerance(1.0, 0.02)))
    drifting = replace(finer, drift=2.0 * own.values["resistance"].spread.drift)
    assert not serves(other(resistance=drifting))
    weaker = other(rated_power=Spread.exact(0.125))
    assert not serves(weaker)  # nobody asked what it needs
    assert serves(weaker, rated_power=0.1)
    assert not serves(weaker, rated_power=0.2)
    assert not serves(replace(own, name="other", package="axial 3.9 × 10 mm"))


def test_a_part_with_a_tighter_window_is_no_substitute() -> None:
    job = job_of(EXAMPLES[-1])
    part = job.design.circuit.part("U2")
    own = job.catalogue[part.use]
    name, window = next(iter(own.windows.items()))
    narrowed = KnownWindow((window.minimum or 0.0) + 1.0, window.maximum, window.unit, "a test")
    tighter = replace(own, name="other", windows={**own.windows, name: narrowed})
    assert substitutes(part, {}, {own.name: own, "other": tighter}) == []
    assert substitutes(part, {}, {own.name: own, "other": replace(own, name="other")}) == ["other"]


def test_a_part_with_a_value_more_is_no_substitute() -> None:
    job = job_of(EXAMPLES[-1])
    part = job.design.circuit.part("R1")
    own = job.catalogue[part.use]
    more = {**own.values, "inductance": KnownValue(Spread.exact(1e-6), "H", "a test")}
    assert (
        substitutes(part, {}, {own.name: own, "other": replace(own, name="o", values=more)}) == []
    )
