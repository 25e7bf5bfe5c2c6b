"""Terminals of packages against what every drawing of them shows."""

import pytest

from railwright.standards.outlines import terminals


@pytest.mark.parametrize(
    ("package", "electrical"),
    [
        ("DIP-8", 8),
        ("DIP-14", 14),
        ("SO-8", 8),
        ("SOT-23-5", 5),
        ("SC70-6", 6),
        ("SOT-23", 3),
        ("TO-92", 3),
        ("TO-220", 3),
        ("TO-220-5", 5),
        ("TO-3", 2),
    ],
)
def test_counts_of_leads(package: str, electrical: int) -> None:
    """Common practice, no source: the number in a name, three where there is none; TO-3 has two."""
    assert sum(name.isdigit() for name in terminals(package)) == electrical


@pytest.mark.parametrize("package", ["TO-220", "TO-220-5", "TO-126", "TO-252"])
def test_a_tab_is_a_terminal_of_its_own(package: str) -> None:
    assert terminals(package)[-1] == "tab"


@pytest.mark.parametrize("package", ["DO-41", "DO-35", "DO-201AD", "DO-214AC", "SOD-123"])
def test_the_band_tells_the_cathode(package: str) -> None:
    """Suppressors for both directions have no band and are numbered."""
    assert terminals(package) == ("1", "2", "band")


@pytest.mark.parametrize("package", ["", "DIP", "DIP-0", "TO-220, 20 mm", "radial, 5 mm", "0805"])
def test_what_no_standard_numbers(package: str) -> None:
    assert terminals(package) == ()
