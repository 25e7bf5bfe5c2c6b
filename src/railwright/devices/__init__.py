"""Equations and declarations per kind of part; a kind is one file of this folder."""

from __future__ import annotations

import importlib
import pkgutil
from collections.abc import Mapping
from functools import cache

from railwright.devices.device import Device


@cache
def kinds() -> Mapping[str, Device]:
    """Every kind that exists in this folder, by name."""
    for module in pkgutil.iter_modules(__path__):
        importlib.import_module(f"{__name__}.{module.name}")
    found: dict[str, Device] = {}
    pending: list[type[Device]] = list(Device.__subclasses__())
    while pending:
        each = pending.pop()
        pending.extend(each.__subclasses__())
        if each.kind:
            if each.kind in found:
                raise TypeError(f"two kinds are called {each.kind!r}; rename one of them")
            found[each.kind] = each()
    return found
