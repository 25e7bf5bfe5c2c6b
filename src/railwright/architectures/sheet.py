"""A sheet on which an architecture puts parts: gives refs, keeps their order."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping

from railwright.circuit.writer import NewTable


class Sheet:
    """Parts of a circuit that is being drawn, in the order of the way of the current."""

    def __init__(self) -> None:
        self.parts: list[NewTable] = []
        self._refs: Counter[str] = Counter()

    def add(
        self,
        letter: str,
        kind: str,
        block: str,
        pins: Mapping[str, str],
        why: str,
        use: str = "",
        **values: str,
    ) -> str:
        """Put a part on the sheet; its ref, which begins with a letter."""
        self._refs[letter] += 1
        ref = f"{letter}{self._refs[letter]}"
        named = {"use": use} if use else {}
        head = {"ref": ref, "kind": kind, **named, **values}
        self.parts.append({**head, "pins": dict(pins), "block": block, "why": why})
        return ref
