"""Terminals of standardised packages, by the names that drawings and datasheets give them.

Sources: JEDEC Publication 95 (outlines and the numbering of their terminals) and IEC 60191, from
memory; the band of a diode is its cathode, common practice, no source.
"""

from __future__ import annotations

import re

_NUMBERED = re.compile(
    r"(?:DIP|SIP|SO|SOIC|SSOP|TSSOP|MSOP|SOT-23|SC70|DFN|QFN)-(?P<count>[1-9]\d?)"
)
"""Packages whose terminals are counted round, seen from above."""
_TABBED = re.compile(r"(?:TO-220|TO-247|TO-263|TO-252)-(?P<count>[1-9])")
_TWO_ENDED = re.compile(r"(?:DO-\d{2,3}(?:A[A-Z])?|SOD-\d{2,3}F?L?)")
_THREE_LEADS = ("TO-92", "SOT-23")
_THREE_LEADS_AND_TAB = ("TO-220", "TO-126", "TO-247", "TO-252", "TO-263", "SOT-223")
_CANS = ("TO-3", "TO-66")


def terminals(package: str) -> tuple[str, ...]:
    """Names of a package's terminals; none where no standard numbers them.

    >>> terminals("TO-220")
    ('1', '2', '3', 'tab')
    >>> terminals("DO-41")
    ('1', '2', 'band')
    >>> terminals("drum core, 12 mm")
    ()
    """
    if found := _NUMBERED.fullmatch(package):
        return _counted(int(found["count"]))
    if found := _TABBED.fullmatch(package):
        return (*_counted(int(found["count"])), "tab")
    if package in _THREE_LEADS:
        return _counted(3)
    if package in _THREE_LEADS_AND_TAB:
        return (*_counted(3), "tab")
    if package in _CANS:
        return ("1", "2", "case")
    if _TWO_ENDED.fullmatch(package):
        return ("1", "2", "band")
    return ()


def _counted(last: int) -> tuple[str, ...]:
    return tuple(str(number) for number in range(1, last + 1))
