"""The study of mistakes: its truth is decided apart, and told from the examples by their hash."""

from __future__ import annotations

import ast
import json
from pathlib import Path

import pytest
from mutants.boards import NAMES, Board
from mutants.kinds import drawn, every
from mutants.mains import MainsTruth
from mutants.rules import UNKNOWN, ruled, touch
from mutants.study import catches, known
from mutants.verdicts import reserves, verdict

from railwright.prove.run import prove
from railwright.surveys.depth import QUICK

HERE = Path(__file__).parent
TRUTH = HERE.parents[1] / "benchmarks" / "truth" / "mutations.json"
DEMO = Board("radio-bench-rail")
NEGATIVE, MAINS = Board("amplifier-minus-nine-volts"), Board("workshop-twelve-volts")


@pytest.mark.parametrize("name", ["truth", "mains", "rules", "guards", "verdicts"])
def test_truth_asks_none_of_the_checks(name: str) -> None:
    tree = ast.parse((HERE / f"{name}.py").read_text("utf-8"))
    imported = [n.module or "" for n in ast.walk(tree) if isinstance(n, ast.ImportFrom)]
    assert imported
    assert not [m for m in imported if m.startswith(("railwright.checks", "railwright.prove"))]


@pytest.mark.parametrize("name", NAMES)
def test_changes_are_the_same_every_time(name: str) -> None:
    once, again = (drawn(Board(name), 20) for _ in range(2))
    assert [change.digest for change in once] == [change.digest for change in again]
    assert len({change.digest for change in once}) == len(once)


def test_sundials_finds_the_example_sound_and_a_wrong_decade_a_mistake() -> None:
    forms: dict[str, object] = {}
    before = {(f.rule, f.subject): f.reserve for f in reserves(NEGATIVE.design, forms)}
    assert min(before.values()) > 0
    changes = {change.id.split(": ", 1)[1]: change for change in every(NEGATIVE)}
    told = verdict(changes["decade: R2 62 Ω"].design(), before, forms)
    assert (told.verdict, told.by) == ("mistake", "accuracy of minus")
    told = verdict(changes["rating: C1 electrolytic 100 µF 63 V low-ESR"].design(), before, forms)
    assert told.verdict == "harmless"


def test_mains_cycles_repeat_and_their_mean_heat_is_what_warms() -> None:
    truth = MainsTruth(MAINS.design)
    stop, typical = truth.stops[0], truth.spread.typical[:, None]
    x = truth.hold(stop, truth.start()[0], typical)
    after = x[:, None]
    for _ in range(5):  # in which a reservoir that is not at rest yet moves by volts
        after = truth.cycles(stop, typical, after[:, -1], truth.even)
    raw = truth.form.topology.index["RAW", ""]
    assert after[raw, -1] == pytest.approx(x[raw], abs=0.02)
    seen = truth.observe(stop, after[:, :-1, None], truth.parameters(stop, typical), None)
    heat = seen.of("U1", "power").mean()
    # Ohm's law of JESD51-1: 5 K/W to the tab and 5 K/W of the sink.
    assert seen.of("U1", "junction")[0, 0] - stop.ambient == pytest.approx(10.0 * heat, rel=0.02)


def test_a_reservoir_of_a_tenth_is_a_mistake_on_the_mains() -> None:
    changes = {change.id.split(": ", 1)[1]: change for change in every(MAINS)}
    told = verdict(changes["decade: C1 electrolytic 220 µF 35 V low-ESR"].design(), {}, {})
    assert (told.verdict, told.by) == ("mistake", "ripple of main")


def test_touch_limits_are_those_published() -> None:
    # IEC 62368-1, table 38: metal that is held briefly may have 51 °C in air of 25 °C.
    assert touch(NEGATIVE.design) == pytest.approx(51.0 + 273.15)
    assert touch(MAINS.design) is None


def test_most_of_the_truth_is_of_the_examples_as_they_are() -> None:
    changes = json.loads(TRUTH.read_text("utf-8"))["changes"]
    assert len(known(changes)) >= 0.95 * len(changes) > 0


def _broken(board: Board, change: str) -> list[tuple[str, float]]:
    """What the written rules say of a change: rules with their reserves, the broken ones alone."""
    changes = {each.id.split(": ", 1)[1]: each for each in every(board)}
    return [(f.rule, round(f.reserve, 3)) for f in ruled(changes[change].design()) if f.reserve < 0]


def test_a_regulator_that_wants_series_resistance_is_ruled_by_its_window() -> None:
    # 5 mΩ of a ceramic where the 2950 type wants at least 50 mΩ, in place of 1.05 Ω.
    assert _broken(DEMO, "dielectric: C7 ceramic 10 µF 25 V class 2") == [
        ("published window", -0.9)
    ]


def test_an_input_of_logic_that_nothing_drives_floats() -> None:
    assert _broken(DEMO, "missing pull-up: R11") == [("floating", -1.0)]
    assert ("floating", -1.0) in _broken(DEMO, "missing logic-gate: U6A")


def test_of_more_behind_a_regulator_than_ahead_of_it_nothing_is_certain() -> None:
    changes = {each.id.split(": ", 1)[1]: each for each in every(MAINS)}
    large = changes["any capacitor: C2 electrolytic 4700 µF 50 V snap-in"].design()
    assert [(f.rule, f.reserve) for f in ruled(large) if f.reserve < 0] == [("backwards", UNKNOWN)]
    assert not [f for f in ruled(MAINS.design) if f.rule == "backwards"]


@pytest.mark.parametrize("change", ["swapped inputs: U7", "enable: U1 GND"])
def test_a_trip_that_does_not_take_down_names_what_senses_or_works_on(change: str) -> None:
    changes = {each.id.split(": ", 1)[1]: each for each in every(DEMO)}
    made = changes[change]
    assert catches(prove(made.design(), depth=QUICK, only=("overload.takes-down",)), made)
