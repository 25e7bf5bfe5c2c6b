"""The JSON of a proof: the documented shape, SI and °C, nothing that is not a number."""

import json
import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from pages.fake_proof import fake_proof, proof_with

from railwright.prove.as_json import as_json, exit_status
from railwright.prove.proof import Change, Finding, Looked, Place, Proof, Remedy, Share, Verdict

DOCUMENT = Path(__file__).resolve().parents[2] / "docs" / "json.md"
Types = type | tuple[type, ...]
NUMBER: Types = (int, float, type(None))
CHECK: dict[str, Types] = {
    "id": str,
    "subject": str,
    "question": str,
    "verdict": str,
    "value": NUMBER,
    "limit": NUMBER,
    "unit": str,
    "margin": NUMBER,
    "reserve": NUMBER,
    "wanted": NUMBER,
    "where": (dict, type(None)),
    "yield": (dict, type(None)),
    "looked": dict,
    "causes": list,
    "assumed": list,
    "because": str,
    "remedies": list,
    "source": str,
}
TOP: dict[str, Types] = {
    "format": int,
    "design": str,
    "verdict": str,
    "seed": int,
    "checks": list,
    "not_asked": list,
    "cautions": list,
    "took": dict,
    "faults": list,
}

REMEDY = (
    "part",
    "value",
    "from",
    "to",
    "margin_before",
    "margin",
    "reserve",
    "lowers",
    "together_with",
)
FAULT = (
    "part",
    "mode",
    "share",
    "local",
    "effect",
    "severity",
    "seen",
    "highest",
    "where",
)


def through_text(proof: Proof) -> dict[str, object]:
    """What a reader of the file gets."""
    text = json.dumps(as_json(proof), allow_nan=False)
    found = json.loads(text)
    assert isinstance(found, dict)
    return found


def check_of(proof: Proof, id: str) -> dict[str, object]:
    checks = as_json(proof)["checks"]
    assert isinstance(checks, list)
    (found,) = (check for check in checks if check["id"] == id)
    assert isinstance(found, dict)
    return found


def test_a_remedy_says_what_changes_and_what_that_gives() -> None:
    one = Change("R1", "resistance", "1 kΩ", "1.2 kΩ")
    two = Change("D1", "use", "1N4001", "1N5819")
    proof = with_finding(
        remedies=(Remedy((one, two), -0.5, 0.3, 0.1, ("output.accuracy of main",)),)
    )
    (found,) = (c["remedies"] for c in through_text(proof)["checks"] if c["remedies"])  # type: ignore[attr-defined]
    assert tuple(found[0]) == REMEDY
    assert found[0]["together_with"] == [
        {"part": "D1", "value": "use", "from": "1N4001", "to": "1N5819"}
    ]
    assert (found[0]["from"], found[0]["to"], found[0]["margin"]) == ("1 kΩ", "1.2 kΩ", 0.3)


def with_finding(**changes: object) -> Proof:
    """The fake proof with its headroom changed and nothing else."""
    (headroom,) = (f for f in fake_proof().findings if f.id == "headroom.series")
    return replace(fake_proof(), findings=[replace(headroom, **changes)])  # type: ignore[arg-type]


def plain_types(data: object) -> bool:
    """Whether all is of JSON's own types exactly: numpy's floats print, but are not plain."""
    if isinstance(data, dict):
        return all(type(k) is str and plain_types(v) for k, v in data.items())
    if isinstance(data, list):
        return all(map(plain_types, data))
    return type(data) in (str, int, float, type(None))


class TestShape:
    def test_of_the_whole(self) -> None:
        found = through_text(fake_proof())
        assert {key: isinstance(found[key], TOP[key]) for key in found} == dict.fromkeys(TOP, True)
        assert found["format"] == 1
        assert found["took"] == {"seconds": 3.14, "points": 180, "samples": 2000, "lanes": 512000}

    def test_of_a_single_fault_to_the_letter(self) -> None:
        found = through_text(fake_proof())["faults"]
        assert isinstance(found, list)
        assert found[0] == {
            "part": "R4",
            "mode": "open",
            "share": 0.59,
            "local": "ADJ from 10.8 V to 16 V",
            "effect": "main goes to 18.2 V, above 18 V",
            "severity": "I",
            "seen": "Q2 fires",
            "highest": {"main": 18.2},
            "where": {
                "outputs": {"main": 12.0},
                "loads": {"main": 1.0},
                "input": 18.0,
                "ambient": 40.0,
            },
        }
        assert tuple(found[0]) == FAULT
        assert found[1]["where"] is None

    def test_of_every_check(self) -> None:
        checks = through_text(fake_proof())["checks"]
        assert isinstance(checks, list)
        assert len(checks) == len(fake_proof().findings)
        for check in checks:
            right = {key: isinstance(check[key], CHECK[key]) for key in check}
            assert right == dict.fromkeys(CHECK, True)

    def test_of_a_check_to_the_letter(self) -> None:
        found = check_of(fake_proof(), "headroom.series")
        assert found["where"] == {
            "outputs": {"main": 12.0},
            "loads": {"main": 1.0},
            "input": 18.0,
            "ambient": 40.0,
        }
        assert found["yield"] == {"estimate": 0.3995, "low": 0.378, "high": 0.4213, "samples": 2000}
        assert found["looked"] == {
            "points": 180,
            "samples": 2000,
            "lanes": 31000,
            "depth": "default",
        }
        causes = found["causes"]
        assert isinstance(causes, list)
        assert causes[0] == {"part": "U2", "value": "dropout", "share": 0.61}
        assert (found["value"], found["limit"], found["margin"]) == (1.42, 2.5, -1.08)
        assert found["reserve"] == -0.432
        assert found["assumed"] == ["U2.dropout"]
        assert found["remedies"] == []

    def test_checks_come_worst_first(self) -> None:
        checks = as_json(fake_proof())["checks"]
        assert isinstance(checks, list)
        order = [(check["verdict"], check["reserve"]) for check in checks]
        assert order == [
            ("falls short", -2.83),
            ("falls short", -0.432),
            ("not proven", 0.123),
            ("marginal", 0.078),
            ("holds", 0.667),
            ("holds", None),
        ]

    def test_a_likely_mistake_says_what_it_should_be(self) -> None:
        causes = check_of(fake_proof(), "overload.carries")["causes"]
        assert isinstance(causes, list)
        assert causes[0]["instead"] == "10 kΩ instead of 1 kΩ"

    def test_every_field_is_documented_and_no_other(self) -> None:
        own, _, _ = DOCUMENT.read_text(encoding="utf-8").partition("\n# A part\n")
        rows = re.findall(r"^\| `(\w+)` \|", own, re.MULTILINE)
        assert rows == [*TOP, *CHECK, *REMEDY, *FAULT]


class TestNumbers:
    def test_temperatures_are_celsius_and_their_margin_is_not(self) -> None:
        found = check_of(fake_proof(), "stress.junction")
        assert (found["value"], found["limit"], found["margin"]) == (117.2, 125.0, 7.8)

    @pytest.mark.parametrize("wrong", [np.nan, np.inf, -np.inf])
    def test_what_is_not_finite_is_null(self, wrong: float) -> None:
        where = Place({"main": wrong}, {"main": wrong}, wrong, wrong)
        proof = with_finding(
            value=wrong, limit=wrong, margin=wrong, reserve=wrong, where=where, unit="°C"
        )
        found = check_of(proof, "headroom.series")
        assert [found[key] for key in ("value", "limit", "margin", "reserve")] == [None] * 4
        assert found["where"] == {
            "outputs": {"main": None},
            "loads": {"main": None},
            "input": None,
            "ambient": None,
        }

    def test_numpy_does_not_come_through(self) -> None:
        proof = with_finding(
            value=np.float64(1.5),
            limit=np.float32(2.5),
            margin=np.float64(-1.0),
            reserve=np.float64(-0.4),
            passing=Share(np.float64(0.5), np.float64(0.4), np.float64(0.6), 9),
            looked=Looked(np.int64(3), 4, 5, "default"),  # type: ignore[arg-type]
            where=Place({"a": np.float64(1)}, {"a": np.float64(1)}, np.float64(1), np.float64(300)),
        )
        proof = replace(proof, seed=np.int64(3))  # type: ignore[arg-type]
        assert plain_types(as_json(proof))

    def test_nothing_known_is_null(self) -> None:
        bare = Finding("x", "U1", "Is it?", "not proven", "It is not known.", "")
        found = check_of(replace(fake_proof(), findings=[bare]), "x")
        assert [found[key] for key in ("value", "limit", "margin", "reserve")] == [None] * 4
        assert found["where"] is None
        assert found["yield"] is None


@pytest.mark.parametrize(
    ("verdicts", "status"),
    [
        (["holds", "marginal"], 0),
        (["holds"], 0),
        (["holds", "not proven", "falls short"], 1),
        (["marginal", "not proven"], 3),
        ([], 3),
    ],
)
def test_exit_status_is_of_the_worst(verdicts: list[Verdict], status: int) -> None:
    assert exit_status(proof_with(*verdicts)) == status
