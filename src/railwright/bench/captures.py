"""Captures read from the files of oscilloscopes."""

from __future__ import annotations

import io
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from railwright.bench.capture import Array, Capture, CaptureError
from railwright.bench.layout import LOOKED_AT, Layout, is_time, layout_of
from railwright.quantity import QuantityError, parse

UNEVEN = 2.0
"""Steps by which a time may be off its place: some scopes write few digits."""
SIDE_BY_SIDE = 2
"""Columns from which on the first may be time although nothing says so."""


def read_capture(path: Path, step: float | None = None) -> Capture:
    """The capture in a file.

    step: between samples [s], where the file has no time and does not say it. CaptureError where
    there is no capture in it, or the time of its samples is not known; OSError where it cannot be
    read.
    """
    with path.open("rb") as file:
        layout = layout_of(file.read(LOOKED_AT))
    table = _table(path, layout)
    bad = np.flatnonzero(~np.isfinite(table).all(axis=1))
    if bad.size:
        line = layout.skip + int(bad[0]) + 1
        raise CaptureError(f"{path}: line {line} is not of numbers alone. Cut it off there.")
    return _capture(path, layout, table, step)


def _table(path: Path, layout: Layout) -> Array:
    """The columns of numbers (sample, column)."""
    try:
        import polars
    except ImportError:
        return _by_numpy(path, layout)
    if layout.delimiter == " " or layout.encoding == "utf-16":
        return _by_numpy(path, layout)
    names = [f"column_{column + 1}" for column in layout.columns]
    try:
        frame = polars.read_csv(
            path,
            has_header=False,
            separator=layout.delimiter,
            skip_rows=layout.skip,
            columns=list(layout.columns),
            schema_overrides=dict.fromkeys(names, polars.Float64),
            decimal_comma=layout.comma,
            encoding="utf8" if layout.encoding.startswith("utf") else "latin-1",
            truncate_ragged_lines=True,
            ignore_errors=True,
        )
    except polars.exceptions.PolarsError:
        return _by_numpy(path, layout)
    return frame.to_numpy(order="fortran").astype(np.float64, copy=False)


def _by_numpy(path: Path, layout: Layout) -> Array:
    text = path.read_bytes().decode(layout.encoding, errors="replace")
    if layout.comma:
        text = text.replace(",", ".")
    delimiter = None if layout.delimiter == " " else layout.delimiter
    try:
        return np.loadtxt(
            io.StringIO(text.replace('"', "")),
            delimiter=delimiter,
            skiprows=layout.skip,
            usecols=layout.columns,
            ndmin=2,
        )
    except ValueError as error:
        raise CaptureError(
            f"{path}: not of numbers alone: {error}. Cut off what is not."
        ) from error


def _capture(path: Path, layout: Layout, table: Array, step: float | None) -> Capture:
    units = layout.units or ("",) * len(layout.columns)
    names = layout.names or tuple(f"channel {i + 1}" for i in range(len(layout.columns)))
    timed = _time_column(layout, table)
    if timed is None:
        told = step if step is not None else layout.step
        if told is None:
            raise CaptureError(
                f"{path}: there is no column of time, and nothing says how far samples are apart. "
                "Say it as a step."
            )
        start, apart = 0.0, told
    else:
        scale = _scale(units[timed], "s") or 1.0
        start, apart = _even(path, table[:, timed] * scale)
    channels: dict[str, Array] = {}
    for index, name in enumerate(names):
        if index != timed:
            scale = _scale(units[index], "V") or _scale(units[index], "A") or 1.0
            channels[_own(name, channels)] = np.ascontiguousarray(table[:, index]) * scale
    if not channels:
        raise CaptureError(f"{path}: there is time and nothing beside it.")
    return Capture(start, apart, channels)


def _own(name: str, taken: dict[str, NDArray[np.float64]]) -> str:
    return name if name not in taken else f"{name} {len(taken) + 1}"


def _time_column(layout: Layout, table: Array) -> int | None:
    """Which column is time: one that is called so, else a first one that rises evenly."""
    for index, (name, unit) in enumerate(
        zip(
            layout.names or [""] * table.shape[1],
            layout.units or [""] * table.shape[1],
            strict=True,
        )
    ):
        if (_scale(unit, "s") or (is_time(name) and not unit)) and _rises(table[:, index]):
            return index
    if table.shape[1] >= SIDE_BY_SIDE and _rises(table[:, 0]) and _is_even(table[:, 0]):
        return 0
    return None


def _rises(row: Array) -> bool:
    return bool(row.size > 1 and row[-1] > row[0] and (np.diff(row) >= 0).all())


def _is_even(row: Array) -> bool:
    apart = (row[-1] - row[0]) / (row.size - 1)
    away = np.abs(row - (row[0] + apart * np.arange(row.size))).max()
    return bool(away <= UNEVEN * apart)


def _even(path: Path, time: Array) -> tuple[float, float]:
    if not _is_even(time):
        raise CaptureError(
            f"{path}: its samples are not even in time. Save it without compression, or one "
            "segment of it."
        )
    return float(time[0]), float((time[-1] - time[0]) / (time.size - 1))


def _scale(unit: str, wanted: str) -> float | None:
    """What one of a unit is in SI; None where it is none of that quantity."""
    try:
        return parse(f"1 {unit}", wanted) if unit else None
    except QuantityError:
        return None
