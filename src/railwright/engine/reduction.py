"""A system without what an analysis does not look at, and without what only that would read."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Literal, get_args

from railwright.engine.assembly import Event
from railwright.engine.expression import Expression
from railwright.engine.system import System

Aspect = Literal["storages", "events", "noises", "signals", "paces"]
"""What a system states beside its residuals and observables."""


def at_rest(system: System) -> System:
    """What an operating point is made of: residuals and observables alone."""
    return reduced(system)


def reduced(system: System, *kept: Aspect) -> System:
    """A system with the aspects that are kept, and with the parameters that these still read.

    What only a dropped aspect reads, such as a noise density, then need not be given. The
    system's graph is a new one, whose operations are in the same order.
    """
    dropped = [aspect for aspect in get_args(Aspect) if aspect not in kept]
    rest = replace(system, **{name: type(getattr(system, name))() for name in dropped})
    roots: list[Expression] = []

    def noted(root: Expression) -> Expression:
        roots.append(root)
        return root

    _changed(rest, noted)
    rows, found = system.graph.part(roots)
    return replace(
        _changed(rest, lambda root: found[root.id]),
        graph=found[roots[0].id].graph,
        parameters=tuple(system.parameters[row] for row in rows),
    )


def _changed(system: System, change: Callable[[Expression], Expression]) -> System:
    """The system with every expression that it holds changed."""
    return replace(
        system,
        residuals=tuple(map(change, system.residuals)),
        magnitudes=tuple(map(change, system.magnitudes)),
        slopes={place: change(e) for place, e in system.slopes.items()},
        observed={name: change(e) for name, e in system.observed.items()},
        storages=tuple(replace(s, amount=change(s.amount)) for s in system.storages),
        events=tuple(
            Event(change(e.guard), {name: change(to) for name, to in e.changes.items()})
            for e in system.events
        ),
        noises=tuple(
            replace(n, density=change(n.density), corner=change(n.corner)) for n in system.noises
        ),
        signals={name: change(e) for name, e in system.signals.items()},
        paces=tuple(map(change, system.paces)),
    )
