"""Proposals for tests, made without proving anything."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import ClassVar

from pages.fake_proof import fake_proof

from railwright.architectures.architecture import Architecture, Sketch, Task, Unserved
from railwright.circuit.design import Design
from railwright.prove.proof import Finding, Proof, Verdict


def finding(id: str, verdict: Verdict, reserve: float | None = None) -> Finding:
    """An answer to a question of an id."""
    like = fake_proof().findings[0]
    return replace(like, id=id, subject="U1", verdict=verdict, reserve=reserve, because="So it is.")


def proof_of(*findings: Finding) -> Proof:
    """A proof with these findings."""
    return replace(fake_proof(), findings=findings)


class Wired(Architecture):
    """Joins output to input by a wire, of one thickness after the other."""

    name = ""
    gives_up = "everything"
    wires: ClassVar[Sequence[str]] = ("1 Ω", "100 mΩ", "10 mΩ")

    def sketches(self, task: Task) -> Sequence[Sketch]:
        ends = {"one": task.fed.plus, "two": task.terminals("main").plus}
        common = {"ref": "W1", "kind": "wire", "pins": ends, "block": "output", "why": "a test"}
        across = {"one": task.terminals("main").plus, "two": task.fed.minus}
        load = {
            "ref": "R1",
            "kind": "resistor",
            "resistance": "1 kΩ",
            "pins": across,
            "block": "load",
        }
        return tuple(Sketch(({**common, "resistance": ohms}, load)) for ohms in self.wires)


class Refusing(Architecture):
    """Refuses everything."""

    name = ""

    def sketches(self, task: Task) -> Sequence[Sketch]:
        raise Unserved("12 V are more than 11 V")


def by_resistance(verdicts: dict[str, Verdict]) -> Callable[..., Proof]:
    """Stands for `prove`: the verdict on the output is that of the wire's resistance."""

    def prove(design: Design, **_: object) -> Proof:
        ohms = design.circuit.part("W1").values["resistance"].spread.typical
        return proof_of(finding("output.accuracy", verdicts[f"{ohms:g}"], 0.2))

    return prove
