"""The limit that a regulator has by itself, against the band of a need."""

from __future__ import annotations

import pytest

from railwright.architectures.architecture import Architecture, Refusal
from railwright.architectures.fixed_linear import FixedLinear
from railwright.architectures.guarded import guarded
from railwright.architectures.guards.own_limit import OwnLimit, limits
from railwright.architectures.step_down import StepDown
from railwright.catalogue.loader import load
from railwright.prove.run import prove
from railwright.surveys.depth import QUICK
from tests.architectures.needs import plain, read_sketch, task_of


def need(carry: str, act_by: str, style: str = "foldback") -> str:
    """12 V with a band for its limit."""
    band = f'[need.output.overload]\nstyle = "{style}"\ncarry = "{carry}"\nact_by = "{act_by}"\n'
    changed = {'"10 %"': '"8 %"', "[need.surroundings]": f"{band}\n[need.surroundings]"}
    return plain(changed)


def refused(kind: Architecture, text: str) -> str:
    offer = guarded(kind, task_of(text))
    assert isinstance(offer, Refusal)
    return offer.reason


def test_a_wide_band_needs_nothing_beside_the_regulator() -> None:
    text = need("0.4 A", "4 A")
    offer = guarded(FixedLinear(), task_of(text))
    assert not isinstance(offer, Refusal), offer.reason
    proof = prove(read_sketch(text, offer[0]), depth=QUICK, only=("overload",), suspecting=False)
    assert [f.id for f in proof.findings if f.verdict in ("falls short", "not proven")] == []
    assert {"overload.limit-carries", "overload.limit-acts"} <= {f.id for f in proof.findings}


def test_the_limit_into_a_heavy_load_is_that_of_the_fold() -> None:
    """I = 1.5 A (1 - 3.6 %/V x (Vin - I R - 15 V)) by going on until it stays; R = 12 V / 4.8 A."""
    entry = load()["317 type 1.5 A"]
    rail = task_of(need("0.4 A", "4 A")).need.output[0]
    fall = entry.values["limit_fall"].spread.high
    current = 1.0
    for _ in range(200):
        across = max(0.0, 30.0 - current * 12.0 / 4.8 - 15.0)
        current = 0.5 * (current + 1.5 * (1.0 - fall * across))
    low, high = limits(rail, entry, 30.0)
    assert low == pytest.approx(current, rel=1e-6)
    assert high == pytest.approx(3.4)


def test_a_band_that_the_type_does_not_keep_is_told() -> None:
    assert "the limit of the 78" in refused(FixedLinear(), need("0.3 A", "0.5 A"))
    assert "of its own that bounds all" in refused(StepDown(), need("0.4 A", "4 A"))


def test_a_trip_is_another_guard() -> None:
    assert not OwnLimit("main").wanted(task_of(need("0.3 A", "2 A", "trip")))


def test_kinds_with_a_limit_of_their_own_making_are_asked_without_it() -> None:
    assert OwnLimit.dispensable
