"""A sheet on which an architecture puts parts: gives refs, keeps their order."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Mapping, Sequence

from railwright.architectures.architecture import Rectified
from railwright.circuit.writer import NewTable

REF = re.compile(r"(\D+)(\d+)(\D?)")


class Sheet:
    """Parts of a circuit that is being drawn, in the order of the way of the current."""

    def __init__(self) -> None:
        self.parts: list[NewTable] = []
        self.rectified: tuple[Rectified, ...] = ()
        """The reservoirs that stand on it behind a transformer."""
        self._refs: Counter[str] = Counter()

    @classmethod
    def of(cls, parts: Sequence[NewTable]) -> Sheet:
        """A sheet on which parts stand already; those added are numbered on."""
        sheet = cls()
        sheet.parts = list(parts)
        for part in parts:
            letters, number, _ = split_ref(str(part["ref"]))
            sheet._refs[letters] = max(sheet._refs[letters], number)
        return sheet

    def join(self, ref: str, pin: str, net: str) -> None:
        """Join a pin of a part that stands on it to another net."""
        index = next(i for i, part in enumerate(self.parts) if part["ref"] == ref)
        pins = self.parts[index]["pins"]
        assert isinstance(pins, Mapping)
        self.parts[index] = {**self.parts[index], "pins": {**pins, pin: net}}

    def add(
        self,
        letter: str,
        kind: str,
        block: str,
        pins: Mapping[str, str],
        why: str,
        use: str = "",
        unit: str = "",
        **values: str,
    ) -> str:
        """Put a part on the sheet; its ref, which begins with a letter.

        unit: which of several in a package it is, the first one first: U4A, U4B.
        """
        if unit in ("", "A"):
            self._refs[letter] += 1
        ref = f"{letter}{self._refs[letter]}{unit}"
        named = {"use": use} if use else {}
        head = {"ref": ref, "kind": kind, **named, **values}
        self.parts.append({**head, "pins": dict(pins), "block": block, "why": why})
        return ref


def split_ref(ref: str) -> tuple[str, int, str]:
    """Letters and number of a ref, and which of several in a package it is."""
    found = REF.fullmatch(ref)
    assert found is not None  # a sheet gives no other refs
    return found[1], int(found[2]), found[3]
