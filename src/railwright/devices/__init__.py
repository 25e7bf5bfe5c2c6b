"""Equations and declarations per kind of part; a kind is one file of this folder."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache

from railwright.devices.device import Device
from railwright.files.folder import classes_in


@cache
def kinds() -> Mapping[str, Device]:
    """Every kind that exists in this folder, by name."""
    found: dict[str, Device] = {}
    for each in classes_in(__name__, __path__, Device):
        if each.kind in found:
            raise TypeError(f"two kinds are called {each.kind!r}; rename one of them")
        if each.kind:
            found[each.kind] = each()
    return found
