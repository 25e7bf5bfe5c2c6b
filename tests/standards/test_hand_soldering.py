"""How hard packages are to solder, against their pitches."""

from __future__ import annotations

import pytest

from railwright.catalogue.loader import load
from railwright.standards.hand_soldering import CLASSES, class_of, hardest

PITCHES = {
    # mm between leads: JEDEC Publication 95, from memory; None where they end beneath the package.
    "DIP-8": 2.54,
    "TO-92": 1.27,
    "SO-8": 1.27,
    "SOP-8": 1.27,
    "SOIC-16": 1.27,
    "TO-263": 2.54,
    "SOT-23-5": 0.95,
    "MSOP-12": 0.65,
    "TSSOP-16": 0.65,
    "HTSSOP-16": 0.65,
    "SSOP-8": 0.65,
    "LQFP-48": 0.5,
    "SC70-6": 0.65,
    "QFN-20": None,
    "WSON-8": None,
}


THROUGH_HOLES = ("DIP-8", "TO-92")


@pytest.mark.parametrize(("package", "pitch"), PITCHES.items())
def test_classes_follow_the_pitch(package: str, pitch: float | None) -> None:
    found = CLASSES.index(class_of(package))
    if pitch is None:
        assert found == 3
    elif pitch < 0.9:
        assert found == 2
    else:
        assert found == (0 if package in THROUGH_HOLES else 1)


def test_of_several_packages_the_easiest_counts() -> None:
    assert class_of("1206 or radial") == CLASSES[0]
    assert class_of("1206") == CLASSES[1]


def test_the_hardest_of_many_and_how_many_there_are() -> None:
    assert hardest(["TO-220", "SO-8", "0805"]) == (CLASSES[1], 2)
    assert hardest([]) == (CLASSES[0], 0)


def test_the_catalogue_has_parts_of_every_class() -> None:
    assert {class_of(entry.package) for entry in load().values()} == set(CLASSES)
