"""What to say to an instrument: a profile in TOML, with the standards' own commands by default.

Commands: SCPI-99, volume 2, and IEEE 488.2, as public texts give them, and from memory. An
instrument that has others gets a file of its own with those lines that differ.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Literal

from railwright.files.mistakes import nearest

Kind = Literal["supply", "multimeter", "load", "oscilloscope"]


class ProfileError(ValueError):
    """A profile that cannot be used: which line, what is wanted."""


@dataclass(frozen=True)
class Profile:
    """Commands by what they do, with `{value}` where a number goes."""

    kind: Kind
    commands: Mapping[str, str]

    def __getitem__(self, what: str) -> str:
        return self.commands[what]

    def with_value(self, what: str, value: float) -> str:
        """A command with a number in the form of the standard (NR3)."""
        return self.commands[what].format(value=f"{value:.6E}")


@cache
def standard(kind: Kind) -> Profile:
    """The profile of an instrument that keeps to the standard."""
    with Path(__file__).with_name("profiles.toml").open("rb") as file:
        return Profile(kind, tomllib.load(file)[kind])


def profile_of(kind: Kind, path: Path | None) -> Profile:
    """The standard's profile, with the lines of a file in the place of its own.

    ProfileError where the file has lines that the standard's does not have.
    """
    own = standard(kind)
    if path is None:
        return own
    try:
        found = tomllib.loads(path.read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise ProfileError(f"{path}: {error}.") from error
    for name, command in found.items():
        if name not in own.commands or not isinstance(command, str):
            raise ProfileError(f'{path}: "{name}" is no command. {nearest(name, own.commands)}')
        if "{value}" in own[name] and "{value}" not in command:
            raise ProfileError(f'{path}: "{name}" wants {{value}} where its number goes.')
    return Profile(kind, {**own.commands, **found})
