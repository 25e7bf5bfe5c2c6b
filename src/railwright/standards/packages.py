"""Thermal resistances of packages: from the junction to the case or lead, and to still air.

Sources: thermal data of regulators of the 317 and 78xx types and of the 3 A Schottky rectifiers
1N5820 to 1N5822; common values of such dice, good to a fifth. A part's own datasheet goes before.
"""

from typing import NamedTuple

from railwright.standards.thermal import allowed_power


class Package(NamedTuple):
    """Junction to case (DO-201AD: to lead) and junction to still air, without a sink [K/W]."""

    to_case: float
    to_air: float


PACKAGES: dict[str, Package] = {
    "TO-220": Package(5.0, 50.0),
    "TO-220 insulated": Package(5.0, 60.0),
    "TO-252": Package(3.0, 62.5),
    "TO-263": Package(3.0, 62.5),
    "TO-3": Package(4.0, 35.0),
    "DO-201AD": Package(10.0, 40.0),
}


def package(name: str) -> Package:
    """The resistances of a package [K/W].

    ValueError where there is no row.

    >>> package("TO-220")
    Package(to_case=5.0, to_air=50.0)
    """
    if name not in PACKAGES:
        raise ValueError(f"no row for {name!r}: there are {', '.join(PACKAGES)}")
    return PACKAGES[name]


def bare_power(name: str, junction: float, ambient: float) -> float:
    """Power that a package without a sink carries off [W].

    junction limit and ambient [K]. ValueError where there is no row.

    >>> bare_power("TO-220", 398.15, 323.15)
    1.5
    """
    return allowed_power(junction, ambient, package(name).to_air)
