"""How far a proof is, told on standard error: a bar on a terminal, else a line per stage."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import partial
from typing import NamedTuple

from rich.console import Console
from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn
from rich.text import Text


class Listener(NamedTuple):
    """What a proof tells while it runs."""

    progress: Callable[[str, float], None]
    """The stage, and its share from 0 to 1."""
    announce: Callable[[str], None]
    """What the engine does before a first run."""


@contextmanager
def listener(quiet: bool = False) -> Iterator[Listener]:
    """Somebody to tell; a quiet one keeps it to itself."""
    console = Console(stderr=True, highlight=False, quiet=quiet)
    if console.is_terminal and not quiet:
        with _bar(console) as bar:
            yield bar
    else:
        yield Listener(_line_per_stage(console), partial(_announce, console))


@contextmanager
def _bar(console: Console) -> Iterator[Listener]:
    columns = (TextColumn("{task.description}", markup=False), BarColumn(), TimeElapsedColumn())
    with Progress(*columns, console=console, transient=True) as bar:
        task = bar.add_task("reading", total=1.0)
        yield Listener(
            lambda stage, share: bar.update(task, description=stage, completed=share),
            partial(_announce, console),
        )


def _announce(console: Console, text: str) -> None:
    console.print(Text(f"first run of this circuit: {text}, kept for next time"))


def _line_per_stage(console: Console) -> Callable[[str, float], None]:
    told: set[str] = set()

    def progress(stage: str, share: float) -> None:
        if stage not in told:
            told.add(stage)
            console.print(Text(f"{stage} ..."))

    return progress
