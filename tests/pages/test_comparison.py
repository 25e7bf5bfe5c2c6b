"""A comparison on a terminal: what differs first, then what that did, with both reserves."""

from __future__ import annotations

import io
from dataclasses import replace

import pytest
from pages.fake_proof import HOSTILE, fake_proof
from rich.console import Console

from railwright.circuit.differences import Difference, Differences, PartDifference
from railwright.pages.comparison import Changes, headline
from railwright.prove.compare import Comparison, _pairs
from railwright.prove.proof import Proof, Share

DIFFERENCES = Differences(
    [
        PartDifference("R5", "changed", [Difference("resistance", "1 kΩ ± 1 %", "2 kΩ ± 1 %")]),
        PartDifference("D9", "removed", [Difference("kind", "diode", "")]),
        PartDifference(HOSTILE, "added", [Difference("use", "", f"{HOSTILE}\x1b[2J")]),
    ],
    [Difference("net", "MID", "HALF")],
    [Difference("need.output.main.ripple", "", "2 mV")],
)


def changed() -> Proof:
    """The fake proof with its headroom mended, its trip gone, its junction worse."""
    findings = []
    for finding in fake_proof().findings:
        if finding.id == "headroom.series":
            sound = Share(1.0, 0.998, 1.0, 2000)
            findings.append(
                replace(
                    finding, verdict="holds", value=3.1, margin=0.6, reserve=0.24, passing=sound
                )
            )
        elif finding.id == "stress.junction":
            findings.append(replace(finding, verdict="falls short", margin=-2.0, reserve=-0.02))
        elif finding.id != "overload.carries":
            findings.append(finding)
    faults = [replace(row, severity="III") for row in fake_proof().faults]
    return replace(fake_proof(), design="Radio bench rail 2", findings=findings, faults=faults)


def printed(width: int, differences: Differences = DIFFERENCES) -> str:
    before, after = fake_proof(), changed()
    found = Comparison(before, after, differences, list(_pairs(before, after)))
    console = Console(file=io.StringIO(), width=width, highlight=False)
    console.print(Changes(found))
    assert isinstance(console.file, io.StringIO)
    return console.file.getvalue()


def squeezed(text: str) -> str:
    return " ".join(text.split())


def test_what_differs_stands_above_what_it_did() -> None:
    text = printed(112)
    parts = ("Parts that differ:", "Nets with another name:", "Around the circuit:", "Worse")
    places = [text.index(part) for part in (*parts, "Better", "Asked before", "As before:")]
    assert places == sorted(places)
    flat = squeezed(text)
    assert "R5: resistance 1 kΩ ± 1 % → 2 kΩ ± 1 %" in flat
    assert "D9 removed: diode" in flat
    assert "need.output.main.ripple nothing → 2 mV" in flat


def test_a_row_has_verdict_reserve_and_value_before_and_after() -> None:
    lines = printed(112).splitlines()
    (first,) = (at for at, line in enumerate(lines) if "U2: Does every series" in line)
    row = squeezed(" ".join(lines[first : first + 3]))
    assert row.startswith("✗ falls short -43 % U2:")
    for told in ("→ ✓ holds 24 %", "1.42 V", "3.1 V", "at least 2.5 V"):
        assert told in row


def test_what_is_open_as_before_is_named_and_the_rest_is_counted() -> None:
    flat = squeezed(printed(112))
    assert "? not proven, 12 %: main: Does the output stay where it was set" in flat
    assert "2 × holds" in flat


def test_a_single_fault_of_another_severity_is_told() -> None:
    assert "R4 open: I → III: main goes to 18.2 V" in squeezed(printed(112))


def test_two_equal_designs_are_said_to_be() -> None:
    assert "Nothing differs between the two designs." in printed(112, Differences([], [], []))


def test_the_headline_counts_what_went_which_way() -> None:
    before, after = fake_proof(), changed()
    found = Comparison(before, after, DIFFERENCES, list(_pairs(before, after)))
    assert headline(found).plain == (
        "Radio bench rail → Radio bench rail 2: ✗ falls short → ✗ falls short "
        "(1 worse, 1 better, 1 gone, 3 as before)"
    )


@pytest.mark.parametrize("width", [60, 80, 112, 200])
def test_stays_within_its_width_and_prints_no_control_characters(width: int) -> None:
    text = printed(width)
    assert max(map(len, text.splitlines())) <= min(width, 112)
    assert "\x1b" not in text
    assert "…" not in text
