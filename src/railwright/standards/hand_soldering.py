"""How hard a package is to solder by hand.

Pitches: JEDEC Publication 95 (MS-012 for SO, TO-236 for SOT-23, MO-187 for MSOP, MO-153 for TSSOP,
MO-203 for SC70, MO-220 for QFN), from memory. What a builder manages with an iron: common practice,
no source.
"""

from __future__ import annotations

import re
from collections.abc import Iterable

CLASSES = (
    "leads through holes",
    "leads on the surface",
    "fine leads, under 0.9 mm apart",
    "pads beneath, hot air",
)
"""In order, the easiest first."""

_BENEATH = re.compile(r"(?:[A-Z]*QFN|[A-Z]*DFN|[A-Z]*LGA|[A-Z]*BGA|[A-Z]*SON|[A-Z]*CSP)(?:-\d+)?")
_FINE = re.compile(r"(?:[A-Z]*SSOP|[MT]SOP|[A-Z]*QFP|SC-?70)(?:-\d+)?")
_SURFACE = re.compile(
    r"(?:SO|SOP|SOIC|SOT-\d+|SM[ABC]|D2?PAK|SOD-\d+F?L?|DO-2\d\dA[A-Z]|TO-252|TO-263|chip.*|\d{4})(?:-\d+)?"
)


def class_of(package: str) -> str:
    """The class of a package; what is none of the surface is joined by leads, lugs or screws.

    Of several packages that a part is bought in the easiest counts.

    >>> class_of("0805 or radial"), class_of("SO-8"), class_of("QFN-20")
    ('leads through holes', 'leads on the surface', 'pads beneath, hot air')
    """
    return min((_class_of(each) for each in package.split(" or ")), key=CLASSES.index)


def hardest(packages: Iterable[str]) -> tuple[str, int]:
    """The class of the hardest of several packages, and how many are of it."""
    found = [class_of(package) for package in packages]
    worst = max(found, key=CLASSES.index, default=CLASSES[0])
    return worst, found.count(worst)


def _class_of(package: str) -> str:
    if _BENEATH.fullmatch(package):
        return CLASSES[3]
    if _FINE.fullmatch(package):
        return CLASSES[2]
    return CLASSES[1 if _SURFACE.fullmatch(package) else 0]
