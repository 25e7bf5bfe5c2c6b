"""The text of a candidate with its proof, and that text with changes put into it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from railwright.circuit.design import Design
from railwright.circuit.writer import set_value
from railwright.prove.proof import Change, Proof


@dataclass(frozen=True)
class Tried:
    """A text that was proved."""

    text: str
    design: Design
    proof: Proof
    changes: tuple[Change, ...] = ()
    """What is no longer as it was sketched."""


def changed(text: str, design: Design, changes: Iterable[tuple[Change, str]]) -> str:
    """A text with changes, each with its reason ahead of the one that its part has in the design.

    EditError where the text has no such part.
    """
    for change, reason in changes:
        first = design.circuit.part(change.part).why
        why = f"{change.to} instead of {change.now}, {reason}; before: {first}"
        text = set_value(text, change.part, change.value, change.to)
        text = set_value(text, change.part, "why", why)
    return text
