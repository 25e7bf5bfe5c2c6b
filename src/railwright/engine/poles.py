"""Natural frequencies of linearised circuits: all finite poles, and whether they decay.

C = P Q, where P tells which rows each storage feeds and Q how the unknowns fill it. With w = Q x
the algebraic unknowns drop out of (G + s C) x = 0: about any shift h,
Q (G + h C)^-1 P w = w / (h - s). That small matrix has one eigenvalue for each storage, nil for
those that have no mode of their own (a capacitor across a source). Its eigenvalues are then
refined on G + s C itself by inverse iteration with the two-sided Rayleigh quotient (Ostrowski
1959; Parlett, The Symmetric Eigenvalue Problem, chapter 4), which loses nothing to the spread of
time constants, and tells how well each of them is determined.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from railwright.engine.linear import Linear, solved_each

Array = NDArray[np.float64]
Complex = NDArray[np.complex128]
Mask = NDArray[np.bool_]
Verdict = Literal["stable", "unstable", "undecided"]

SHIFT = 1.2345
"""[1/s]. Off nil, where slow poles lie and where a node without a path for direct current is
singular."""
FASTEST = 1e14
"""[1/s]. What is faster is no mode of a circuit of lumped parts; rounding of an infinite one."""
SLOWEST = 1.0
"""[1/s]. Slower poles that rounding hides are left out: a net that only its leakage ties down."""
NEGLIGIBLE = 1e-3
"""[1/s]. Drifts this slow are no matter of held temperatures, and are not judged."""
TOLERANCE = 1e-9
"""A pole on the axis to within this share of its size is undecided."""
ROUNDING = 1e-14
"""Doubt in every slope, as a share of it."""
ROUNDS = 2
"""Each squares the error that is left, and the first values are good to some 1e-6."""
STIR = 1e-12
"""Random change of the slopes in inverse iteration; poles are read off the true ones."""
CLEAR, SAFETY = 0.02, 1e3
"""Share of its size by which a first value is clear of the imaginary axis, and how many roundings
of the matrix it may be off: a handful is found."""
JUMP = 1e-2
"""A refinement that moves a pole by more than this share has gone to another one."""
LANES_AT_ONCE = 64


@dataclass(frozen=True)
class Poles:
    """Finite poles over lanes, and what they say."""

    value: Complex
    """[rad/s] (lane, pole), fastest first; not-a-number fills up lanes that have fewer."""
    doubt: Array
    """How far rounding of the slopes may move each of them [rad/s] (lane, pole)."""
    solved: Mask
    verdict: tuple[Verdict, ...]
    """Of each lane; `undecided` also where it was not solved, or has no pole to judge."""

    @property
    def stable(self) -> Mask:
        """Lanes in which every disturbance decays."""
        return np.array([each == "stable" for each in self.verdict], bool)

    @property
    def frequency(self) -> Array:
        """Natural frequencies [Hz] (lane, pole)."""
        return np.abs(self.value) / (2.0 * np.pi)

    @property
    def damping(self) -> Array:
        """Damping ratios (lane, pole): -real part / size; 1 on the real axis."""
        with np.errstate(divide="ignore", invalid="ignore"):
            return np.asarray(-self.value.real / np.abs(self.value), float)


def poles(linear: Linear, tolerance: float = TOLERANCE, exact: bool = True) -> Poles:
    """All finite poles of the circuit over lanes.

    tolerance: a pole whose real part is below this share of its size, or below its own doubt,
    is undecided. exact: False leaves poles as they are first found where these are clear of the
    imaginary axis by far more than their error, which saves most of the work.
    """
    pieces = [_poles(linear, which, exact) for which in _pieces(linear.count)]
    value = np.concatenate([piece[0] for piece in pieces])
    doubt = np.concatenate([piece[1] for piece in pieces])
    solved = linear.solved & np.concatenate([piece[2] for piece in pieces])
    value[~solved] = np.nan
    verdict = tuple(
        _verdict(s[~np.isnan(s)], d[~np.isnan(s)], tolerance) if good else "undecided"
        for s, d, good in zip(value, doubt, solved, strict=True)
    )
    return Poles(value, doubt, solved, verdict)


def moved(linear: Linear, before: Linear, pole: Complex) -> Complex:
    """Where a pole of each lane goes to first order as `before` changes into `linear` [rad/s].

    The two-sided Rayleigh quotient with the vectors that the pole (lane) had before. Lanes that
    had the same one are taken to have been equal.
    """
    _, first, which = np.unique(pole, return_index=True, return_inverse=True)
    own = before.take(first)
    with np.errstate(all="ignore"):
        _, x, y = _iterated(*own.matrices, pole[first])
        found = [
            -_form(y[group], g, x[group]) / _form(y[group], c, x[group])
            for some in _pieces(linear.count)
            for group in [which[some]]
            for g, c in [linear.take(some).matrices]
        ]
    return np.concatenate(found)


def taking_part(linear: Linear, pole: Complex) -> dict[str, Array]:
    """Which storages a pole of each lane [rad/s] lives in: owner -> its share (lane).

    Participation of a state in a mode, left times right vector (Pérez-Arriaga, Verghese and
    Schweppe 1982; from memory), as sizes whose sum is 1.
    """
    feeding, filling = _storages(linear)
    with np.errstate(all="ignore"):
        _, x, y = _iterated(*linear.matrices, pole)
        size = np.abs(y @ feeding) * np.abs((filling @ x[..., None])[..., 0])
        size /= size.sum(axis=1, keepdims=True)
    found: dict[str, Array] = {}
    for owner, share in zip(linear.system.owners, size.T, strict=True):
        found[owner] = found.get(owner, 0.0) + share
    return found


def _pieces(count: int) -> list[NDArray[np.intp]]:
    """Lanes in pieces whose matrices are in memory at the same time."""
    return np.array_split(np.arange(count), max(1, -(-count // LANES_AT_ONCE)))


def _verdict(poles: Complex, doubt: Array, tolerance: float) -> Verdict:
    judged = np.abs(poles) > NEGLIGIBLE
    if not judged.any():
        return "undecided"
    real = poles.real[judged]
    unsure = np.maximum(tolerance * np.abs(poles[judged]), doubt[judged])
    if (real > unsure).any():
        return "unstable"
    return "stable" if (real < -unsure).all() else "undecided"


def _poles(linear: Linear, which: NDArray[np.intp], exact: bool) -> tuple[Complex, Array, Mask]:
    """Poles and doubts (lane, pole) of some lanes, and which could be computed."""
    own = linear.take(which)
    conductive, storing = own.matrices
    feeding, filling = _storages(own)
    many = filling.shape[1]
    value = np.full((which.size, many), np.nan, complex)
    doubt = np.full((which.size, many), np.nan)
    finite = np.isfinite(conductive).all(axis=(1, 2)) & np.isfinite(storing).all(axis=(1, 2))
    usable = np.flatnonzero(own.solved & finite)
    solved = np.zeros(which.size, bool)
    if usable.size and many:
        g, c = conductive[usable], storing[usable]
        solved[usable], first, error = _eigenvalues(g, c, feeding, filling[usable])
        clear = np.abs(first.real) - error > CLEAR * np.abs(first)
        clear &= not exact
        refined, doubts = _refined(g, c, np.where(clear, np.nan, first))
        value[usable] = np.where(clear, first, refined)
        doubt[usable] = np.where(clear, error, doubts)
    elif usable.size:
        solved[usable] = True
    order = np.argsort(np.where(np.isnan(value), np.inf, -np.abs(value)), axis=1)
    return np.take_along_axis(value, order, 1), np.take_along_axis(doubt, order, 1), solved


def _storages(linear: Linear) -> tuple[Array, Array]:
    """P (row, storage) and Q (lane, storage, column)."""
    storages = linear.system.storages
    feeding = np.zeros((linear.system.size, len(storages)))
    for place, (plus, minus, _) in enumerate(storages):
        for row, sign in ((plus, 1.0), (minus, -1.0)):
            if row is not None:
                feeding[row, place] += sign
    filling = [linear.vector(slopes) for *_, slopes in storages]
    shape = (linear.count, 0, linear.system.size)
    return feeding, np.stack(filling, axis=1) if filling else np.zeros(shape)


def _eigenvalues(g: Array, c: Array, feeding: Array, filling: Array) -> tuple[Mask, Complex, Array]:
    """First values of the poles (lane, storage) and their errors, infinite ones not-a-number."""
    small = filling @ solved_each(g + SHIFT * c, np.broadcast_to(feeding, (len(g), *feeding.shape)))
    good = np.isfinite(small).all(axis=(1, 2))
    found = np.full(small.shape[:2], np.nan, complex)
    found[good] = np.linalg.eigvals(small[good])
    with np.errstate(divide="ignore", invalid="ignore"):
        s = SHIFT - 1.0 / found
        size = np.linalg.norm(small, axis=(1, 2))[:, None] * np.abs(s)
        error = SAFETY * ROUNDING * size * np.abs(s)
    return good, np.where(np.abs(s) < FASTEST, s, np.nan), error


def _refined(g: Array, c: Array, first: Complex) -> tuple[Complex, Array]:
    """Poles that G + s C itself confirms, and the doubt in each."""
    with np.errstate(all="ignore"):
        return _confirmed(g, c, first)


def _confirmed(g: Array, c: Array, first: Complex) -> tuple[Complex, Array]:
    lane, place = np.nonzero(~np.isnan(first))
    own_g, own_c = g[lane], c[lane]
    s, x, y = _iterated(own_g, own_c, first[lane, place])
    size = np.abs(own_g) + np.abs(s)[:, None, None] * np.abs(own_c)
    doubt = ROUNDING * _form(np.abs(y), size, np.abs(x)) / np.abs(_form(y, own_c, x))
    doubt = np.where(np.isfinite(doubt), doubt, np.inf)
    # Nothing but rounding is left of a mode whose doubt is its size: an infinitely fast one,
    # or a net that hardly anything ties down.
    real = (doubt < np.abs(s)) | ((np.abs(s) > SLOWEST) & (np.abs(s) < 1e-2 * FASTEST))
    value = np.full(first.shape, np.nan, complex)
    doubts = np.full(first.shape, np.nan)
    value[lane[real], place[real]], doubts[lane[real], place[real]] = s[real], doubt[real]
    return value, doubts


def _iterated(g: Array, c: Array, s: Complex) -> tuple[Complex, Complex, Complex]:
    """Poles near first values, one in each system, and their right and left vectors."""
    rng = np.random.default_rng(1)
    x, y = (rng.standard_normal((s.size, g.shape[1])).astype(complex) for _ in range(2))
    for _ in range(ROUNDS):
        # Exactly on a pole there is no solution; a stir next to rounding makes one.
        stirred = 1.0 + STIR * rng.standard_normal(g.shape)
        a = (g + s[:, None, None] * c) * stirred
        x = _next(a, c @ x[..., None], x)
        y = _next(a.transpose(0, 2, 1), c.transpose(0, 2, 1) @ y[..., None], y)
        s = _nearer(s, g, c, x, y)
    return s, x, y


def _nearer(s: Complex, g: Array, c: Array, x: Complex, y: Complex) -> Complex:
    moved = -_form(y, g, x) / _form(y, c, x)
    near = np.abs(moved - s) < JUMP * np.abs(s)
    return np.where(near, moved, s)


def _form(y: Any, a: Any, x: Any) -> Any:
    """y^T A x, one for each."""
    return (y[:, None] @ a @ x[..., None])[:, 0, 0]


def _next(a: Complex, right: Complex, old: Complex) -> Complex:
    """Unit vectors along the solutions, the old ones where there is none."""
    found = solved_each(a, right)[..., 0]
    found = found / np.linalg.norm(found, axis=1, keepdims=True)
    return np.where(np.isfinite(found).all(axis=1, keepdims=True), found, old)
