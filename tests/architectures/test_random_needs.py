"""Random needs: each architecture offers what the strict reader takes, or says what binds."""

from __future__ import annotations

from functools import cache

import pytest

from railwright.architectures import every
from railwright.architectures.architecture import Architecture, Offer, Refusal
from railwright.architectures.guarded import guarded
from railwright.circuit.design import read_text
from railwright.propose.candidates import propose, serves
from railwright.propose.draft import drafted, with_nets
from railwright.surveys.depth import QUICK
from tests.architectures.needs import need_of, plain, servable, task_of

COUNT = 16
SHARE = 0.9
"""Of the servable needs that are to be offered something."""
PROVED = 10, 15
"""Seeds of which the first kind of supply that offers something is proved."""


@cache
def offers_of(seed: int) -> dict[str, Offer]:
    """What every architecture answers, within the guards that are wanted."""
    task = task_of(need_of(seed))
    return {architecture.name: guarded(architecture, task) for architecture in every()}


@pytest.mark.parametrize("seed", range(COUNT))
def test_is_offered_what_can_be_read_or_told_what_binds(seed: int) -> None:
    text = need_of(seed)
    need = read_text(text, "need")
    for offer in offers_of(seed).values():
        if isinstance(offer, Refusal):
            assert len(offer.reason.split()) > 5
            continue
        assert offer
        design = read_text(drafted(with_nets(text, need), offer[0]), "draft")
        assert len(design.circuit.parts) >= 6
        assert all(part.why for part in design.circuit.parts)


def test_most_of_what_can_be_served_is_offered_something() -> None:
    can = [seed for seed in range(COUNT) if servable(read_text(need_of(seed), "need").need)]
    offered = [
        seed
        for seed in can
        if any(not isinstance(offer, Refusal) for offer in offers_of(seed).values())
    ]
    assert len(can) >= 5
    assert len(offered) >= SHARE * len(can), sorted(set(can) - set(offered))


@pytest.mark.parametrize("seed", PROVED)
def test_is_proved_or_withdrawn_with_its_reason(seed: int) -> None:
    text, only = need_of(seed), first_of(seed)
    found = propose(read_text(text, "need"), text, depth=QUICK, architectures=[only])
    assert len(found.candidates) + len(found.withdrawn) == 1
    assert all(serves(candidate.proof) for candidate in found.candidates)
    assert all(len(withdrawn.reason.split()) > 5 for withdrawn in found.withdrawn)


def first_of(seed: int) -> Architecture:
    """The first kind of supply that offers something."""
    return next(a for a in every() if not isinstance(offers_of(seed)[a.name], Refusal))


@pytest.mark.parametrize(
    ("changes", "can"),
    [
        ({}, True),
        # 14.5 V less 0.3 A x 0.1 ohm less 2.5 V are 11.97 V
        ({'"17 V"': '"14.5 V"'}, False),
        # (19 V - 12 V) x 4.3 A are 30.1 W
        ({'"0.3 A"': '"4.3 A"'}, False),
        ({'"100 mΩ"': '"100 mΩ"\nlimit = { current = "0.2 A", style = "hiccup" }'}, False),
        ({'"dc"': '"ac"\nfrequency = { min = "50 Hz", max = "50 Hz" }'}, False),
    ],
    ids=["plain", "drops", "loss", "source", "mains"],
)
def test_what_ought_to_be_served(changes: dict[str, str], can: bool) -> None:
    assert servable(read_text(plain(changes), "need").need) == can
