"""Compiled code against the same equations on numpy, for every kind of part, and its keeping."""

from __future__ import annotations

import os
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
from circuits import Board
from engine.example_circuits import resistor_and_diode
from engine.lone import (
    Variant,
    as_blocks,
    as_rows,
    board_of,
    name_of,
    random_lanes,
    random_unknowns,
    variants,
)
from numpy.typing import NDArray

from railwright.devices import kinds
from railwright.engine import kernel as kernel_module
from railwright.engine import processor, reference, storage
from railwright.engine.elimination import pivot_order
from railwright.engine.kernel import Kernel, compiled, kernel_for
from railwright.engine.model import Model, Name
from railwright.engine.reduction import at_rest
from railwright.engine.system import System, slope_matrices, trace

Array = NDArray[np.float64]
LANES = 203
"""No multiple of any width, and more than one block."""
WIDTHS = (2, 4, 8)


@dataclass
class Bench:
    """A model at random numbers, on both paths."""

    model: Model
    x: Array
    lanes: dict[Name, Array | float]

    @classmethod
    def of(cls, variant: Variant, seed: int = 5) -> Bench:
        board = board_of(variant)
        rng = np.random.default_rng(seed)
        lanes = random_lanes(board, rng, LANES)
        return cls(board.model, random_unknowns(board.model, rng, LANES), lanes)

    def rows(self, names: tuple[Name, ...]) -> Array:
        found = self.model.parameters(names, self.lanes)
        return np.array([np.broadcast_to(found[name], (LANES,)) for name in names])

    def samples(self, system: System) -> tuple[Array, Array]:
        return self.x[:, :24], self.rows(system.parameters)[:, :24]

    def kernel(self) -> Kernel:
        layout, code = compiled(self.model.topology, self.samples)
        return Kernel(self.model.topology, layout, code)


def check_inspection(bench: Bench, kernel: Kernel) -> None:
    """Observables and the largest imbalance, compiled and plain."""
    layout = kernel.layout
    p = bench.rows(layout.parameters)
    width = layout.width
    seen = as_rows(kernel.inspect(as_blocks(bench.x, width), as_blocks(p, width)), LANES)
    known = dict(zip(layout.parameters, p, strict=True))
    plain = reference.assemble(bench.model.topology, bench.x, known).observed
    wanted = np.array([np.broadcast_to(plain[name], (LANES,)) for name in layout.observables])
    assert np.isfinite(wanted).all()
    most = 1.0 + np.abs(wanted).max(axis=0)
    assert (np.abs(seen[:-1] - wanted) <= 1e-9 * most).all()
    imbalance = reference.relative_residuals(bench.model.topology, bench.x, known).max(axis=0)
    assert seen[-1] == pytest.approx(imbalance, rel=1e-9)


ROUGH = "step-up-regulator"
"""Where more of the random states than elsewhere lie in the corners of the balance, whose slopes
are small differences of large numbers."""


def check_step(bench: Bench, kernel: Kernel) -> None:
    """One iteration, compiled with the shared order and plain with row exchanges."""
    layout = kernel.layout
    p = bench.rows(layout.parameters)
    blocks = as_blocks(bench.x, layout.width)
    report = as_rows(kernel.newton(blocks, as_blocks(p, layout.width), 1), LANES)
    known = dict(zip(layout.parameters, p, strict=True))
    wanted, _ = reference.newton(bench.model.topology, bench.x, known, 1)
    error = np.abs(as_rows(blocks, LANES) - wanted).max(axis=0)
    assert report[1].tolist() == [1.0] * LANES
    assert np.median(error) < 1e-11
    kinds_here = {e.device.kind for e in bench.model.topology.elements}
    share = 0.8 if ROUGH in kinds_here else 0.9
    assert np.quantile(error, share) < 1e-7
    there = smallest_pivots(bench) > GONE
    assert there.mean() > 0.97
    assert error[there].max() < 1e-3


GONE = 1e-12
"""Share of its column at which a pivot leaves hardly a digit of a double: other than those of the
samples, a lane's matrix may have such ones in the order that is best for these."""


def smallest_pivots(bench: Bench) -> Array:
    """Of each lane the smallest share that a pivot has of what is left of its column."""
    system = at_rest(trace(bench.model.topology))
    order = pivot_order(list(system.slopes), slope_matrices(system, *bench.samples(system)))
    a = slope_matrices(system, bench.x, bench.rows(system.parameters))
    a /= np.abs(a).max(axis=2, keepdims=True)
    rows, least = np.ones(a.shape[1], bool), np.full(LANES, np.inf)
    for row, column in order:
        top = np.abs(a[:, rows, column]).max(axis=1)
        rows[row] = False
        pivot = a[:, row, column]
        least = np.minimum(least, np.abs(pivot) / np.maximum(top, 1e-300))
        factor = a[:, rows, column] / np.where(pivot == 0.0, 1e-300, pivot)[:, None]
        a[:, rows] -= factor[:, :, None] * a[:, None, row]
    return least


def test_every_kind_is_here() -> None:
    assert {kind for kind, _, _ in variants()} == set(kinds())


@pytest.mark.parametrize("variant", variants(), ids=name_of)
class TestEveryKind:
    def test_traced_equations_are_the_plain_ones(self, variant: Variant) -> None:
        bench = Bench.of(variant)
        system = trace(bench.model.topology)
        p = bench.rows(system.parameters)
        known = dict(zip(system.parameters, p, strict=True))
        values, slopes = reference.linearised(bench.model.topology, bench.x, known)
        found = system.graph.evaluate(system.residuals, bench.x, p)
        assert np.array(found) == pytest.approx(values, rel=1e-12, abs=1e-12)
        error = np.abs(slope_matrices(system, bench.x, p) - slopes)
        error /= np.abs(slopes).max(axis=(0, 2), keepdims=True)
        # The rounded corners are small differences of large numbers where they are nearly nil.
        assert np.quantile(error, 0.99) < 1e-13
        assert error.max() < 1e-6

    def test_compiled_code_agrees_with_numpy(self, variant: Variant) -> None:
        bench = Bench.of(variant)
        kernel = bench.kernel()
        check_inspection(bench, kernel)
        check_step(bench, kernel)


@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize("kind", sorted(kinds()))
def test_at_every_width(kind: str, width: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(processor.WIDTH_VARIABLE, str(width))
    bench = Bench.of((kind, {}, True), seed=6)
    kernel = bench.kernel()
    assert kernel.layout.width == width
    check_inspection(bench, kernel)
    check_step(bench, kernel)


class TestIteration:
    """Newton's loop in compiled code, on a divider whose solution is one step away."""

    def kernel(self, board: Board | None = None) -> tuple[Kernel, Array, Array]:
        if board is None:
            board = Board().resistor("R1", "A", "0", 2.0).resistor("R2", "A", "B", 1.0)
            board.source("V", "B", 1.5)
        names = at_rest(trace(board.topology)).parameters
        p = board.model.parameters(names, {("V", "voltage"): np.linspace(0.3, 12.3, 11)})
        rows = np.array([np.broadcast_to(p[name], (11,)) for name in names])
        x = np.zeros((len(board.topology.unknowns), 11))
        kernel = Kernel(board.topology, *compiled(board.topology, lambda system: (x, rows)))
        width = kernel.layout.width
        return kernel, as_blocks(x, width), as_blocks(rows, width)

    def test_lanes_come_to_rest_one_by_one(self) -> None:
        kernel, x, p = self.kernel()
        at_rest, used, trust, least = as_rows(kernel.newton(x, p, 40), 11)
        assert at_rest.tolist() == [1.0] * 11
        assert used.max() > used.min()  # the farthest lanes are limited to 3 V a step
        assert trust.min() > 1e-9
        assert (least <= trust).all()
        assert least.min() > 1e-9
        assert as_rows(x, 11)[0] == pytest.approx(np.linspace(0.2, 8.2, 11), rel=1e-6)

    def test_a_lane_at_rest_stays_put_while_others_go_on(self) -> None:
        kernel, x, p = self.kernel(resistor_and_diode())
        begin = x.copy()
        used = as_rows(kernel.newton(x, p, 40), 11)[1]
        for lane in range(11):
            stopped = begin.copy()
            kernel.newton(stopped, p, int(used[lane]))
            assert np.array_equal(as_rows(stopped, 11)[:, lane], as_rows(x, 11)[:, lane])

    def test_no_iterations_left(self) -> None:
        kernel, x, p = self.kernel()
        at_rest, used, *_ = as_rows(kernel.newton(x, p, 1), 11)
        assert at_rest.tolist() == [0.0] * 11
        assert used.tolist() == [1.0] * 11

    def test_damping_shortens_the_step(self) -> None:
        kernel, x, p = self.kernel()
        whole, part = x.copy(), x.copy()
        kernel.newton(whole, p, 1)
        kernel.newton(part, p, 1, 0.25)
        assert part == pytest.approx(0.25 * whole, rel=1e-12)

    def test_what_is_no_number_is_never_at_rest(self) -> None:
        kernel, x, p = self.kernel()
        row = kernel.layout.parameters.index(("V", "voltage"))
        p[0, row, 1] = np.nan
        at_rest, *_, least = as_rows(kernel.newton(x, p, 40), 11)
        assert at_rest.tolist() == [1.0, 0.0, *[1.0] * 9]
        assert np.flatnonzero(least == 0.0).tolist() == [1]

    def test_more_blocks_than_one_task(self) -> None:
        kernel, x, p = self.kernel()
        times = 3 * kernel_module.BLOCKS_A_TASK
        many, parameters = np.tile(x, (times, 1, 1)), np.tile(p, (times, 1, 1))
        kernel.newton(many, parameters, 40)
        kernel.newton(x, p, 40)
        assert np.array_equal(many, np.tile(x, (times, 1, 1)))
        seen = kernel.inspect(many, parameters)
        assert np.array_equal(seen, np.tile(kernel.inspect(x, p), (times, 1, 1)))


class TestKeeping:
    """Compiled code is kept on disk, and what is there is not trusted blindly."""

    @pytest.fixture(autouse=True)
    def own_folder(self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
        folder = tmp_path / "cache"
        monkeypatch.setenv(storage.FOLDER_VARIABLE, str(folder))
        self.forget(monkeypatch)
        return folder

    def forget(self, monkeypatch: pytest.MonkeyPatch) -> None:
        monkeypatch.setattr(kernel_module, "_loaded", {})

    def get(self, kind: str = "resistor") -> tuple[Kernel, list[str]]:
        bench = Bench.of((kind, {}, True))
        told: list[str] = []
        kernel = kernel_for(bench.model.topology, bench.samples, told.append)
        check_inspection(bench, kernel)
        return kernel, told

    def test_told_before_compiling_only(self, monkeypatch: pytest.MonkeyPatch) -> None:
        assert self.get()[1] == ["compiling the equations of 3 parts"]
        assert self.get()[1] == []
        self.forget(monkeypatch)
        assert self.get()[1] == []

    def test_another_process_compiles_nothing(self, own_folder: Path) -> None:
        program = (
            "from circuits import Board\n"
            "from railwright.engine.operating_point import operating_point\n"
            "model = Board().source('V', 'A', 1.0).resistor('R', 'A', '0', 2.0).model\n"
            "found = operating_point(model, {}, 3, announce=print)\n"
            "print(found.of('R', 'current').round(6).tolist())\n"
        )
        paths = os.pathsep.join(filter(None, sys.path))
        environment = {**os.environ, "PYTHONPATH": paths}
        said = [
            subprocess.run(
                (sys.executable, "-c", program),
                env=environment,
                capture_output=True,
                check=True,
                text=True,
            ).stdout.splitlines()
            for _ in range(2)
        ]
        assert said[0] == ["compiling the equations of 2 parts", "[0.5, 0.5, 0.5]"]
        assert said[1] == ["[0.5, 0.5, 0.5]"]
        assert len(list(own_folder.iterdir())) == 1

    @pytest.mark.parametrize("damage", ["bit", "cut", "empty", "other"])
    def test_a_damaged_file_is_made_anew(
        self, damage: str, own_folder: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        self.get()
        (file,) = own_folder.iterdir()
        whole = file.read_bytes()
        middle = len(whole) // 2
        file.write_bytes(
            {
                "bit": whole[:middle] + bytes([whole[middle] ^ 1]) + whole[middle + 1 :],
                "cut": whole[:middle],
                "empty": b"",
                "other": b"no compiled code at all, but long enough to be mistaken for it",
            }[damage]
        )
        self.forget(monkeypatch)
        assert self.get()[1] == ["compiling the equations of 3 parts"]
        self.forget(monkeypatch)
        assert self.get()[1] == []

    def test_a_folder_that_cannot_be_written_is_no_error(
        self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        file = tmp_path / "no folder"
        file.write_text("")
        monkeypatch.setenv(storage.FOLDER_VARIABLE, str(file / "below"))
        assert len(self.get()[1]) == 1

    def test_one_file_for_each_topology(self, own_folder: Path) -> None:
        self.get("resistor")
        self.get("inductor")
        assert len(list(own_folder.iterdir())) == 2

    def test_renewed_on_request(self) -> None:
        bench = Bench.of(("resistor", {}, True))
        first = kernel_for(bench.model.topology, bench.samples)
        assert kernel_for(bench.model.topology, bench.samples) is first
        again = kernel_for(bench.model.topology, bench.samples, renew=True)
        assert again is not first
        assert kernel_for(bench.model.topology, bench.samples) is again

    def test_key_changes_with_width_and_circuit(self, monkeypatch: pytest.MonkeyPatch) -> None:
        topology = Bench.of(("resistor", {}, True)).model.topology
        keys = set()
        for width in WIDTHS:
            monkeypatch.setenv(processor.WIDTH_VARIABLE, str(width))
            keys.add(kernel_module.key_of(topology))
        keys.add(kernel_module.key_of(Bench.of(("wire", {}, True)).model.topology))
        assert len(keys) == 4
