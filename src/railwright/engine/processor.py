"""The processor at hand: its vector width and a name for what was compiled for it."""

from __future__ import annotations

import os
from functools import cache

import llvmlite.binding as llvm

WIDTH_VARIABLE = "RAILWRIGHT_LANE_WIDTH"
"""Environment variable that forces the number of lanes side by side (for tests)."""


def lane_width() -> int:
    """Doubles that the processor's vector registers hold, at least 2."""
    forced = os.environ.get(WIDTH_VARIABLE)
    if forced:
        return int(forced)
    features = llvm.get_host_cpu_features()
    if features.get("avx512f"):
        return 8
    return 4 if features.get("avx2") or features.get("avx") else 2


def course_width(lanes: int) -> int:
    """Lanes side by side in a course of so many.

    Narrow vectors divide faster, and the memory of four lanes stays in the nearest cache where
    that of eight does not: measured, not calculated.
    """
    if os.environ.get(WIDTH_VARIABLE):
        return lane_width()
    return min(lane_width(), 2 if lanes <= 2 else 4)


def target_machine() -> llvm.TargetMachine:
    """Code generator for this processor."""
    llvm.initialize_native_target()
    llvm.initialize_native_asmprinter()
    target = llvm.Target.from_default_triple()
    return target.create_target_machine(
        cpu=llvm.get_host_cpu_name(),
        features=_features(),
        opt=1,
        reloc="pic",
        codemodel="default",
    )


@cache
def _features() -> str:
    features = llvm.get_host_cpu_features().flatten()
    # Without this LLVM splits vectors of 8 doubles in two on processors that have them whole.
    return f"{features},-prefer-256-bit" if "+avx512f" in features else features


def fingerprint() -> str:
    """A text that changes when code compiled before might not run or not fit."""
    return "\n".join(
        [llvm.get_process_triple(), llvm.get_host_cpu_name(), _features(), str(lane_width())]
    )
