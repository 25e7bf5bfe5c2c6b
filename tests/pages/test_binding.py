"""Which question binds where: the lowest reserve wins, whatever its unit."""

from __future__ import annotations

from dataclasses import replace
from xml.etree import ElementTree

import numpy as np
import pytest
from pages.fake_proof import fake_proof

from railwright.pages.binding import FINE, binding
from railwright.pages.binding_map import binding_map
from railwright.prove.proof import Array, Finding, MarginMap

(HEADROOM,) = (f for f in fake_proof().findings if f.id == "headroom.series")
OUTPUT, LOAD = np.linspace(0.0, 10.0, 3), np.linspace(0.0, 1.0, 5)
VOLTS, AMPERES = np.meshgrid(OUTPUT, LOAD, indexing="ij")


def finding(subject: str, reserves: Array, scale: float, **axes: Array) -> Finding:
    """A question whose margins are its reserves times a scale of its own."""
    axes = axes or {"output_main": OUTPUT, "load_main": LOAD}
    shown = MarginMap({n.replace("_", " "): a for n, a in axes.items()}, scale * reserves)
    worst = float(np.nanmin(reserves))
    return replace(HEADROOM, subject=subject, margin=scale * worst, reserve=worst, map=shown)


RISES = finding("U1", 0.1 + AMPERES, 1000.0)
FALLS = finding("U2", 0.8 - 0.4 * AMPERES, 0.001)


def test_the_lowest_reserve_binds_on_either_side_of_where_both_are_equal() -> None:
    """0.1 + x = 0.8 - 0.4 x at half an ampere, where both are 0.6."""
    found = binding([RISES, FALLS], "main")
    assert found is not None
    assert list(found.axes) == ["load main", "output main"]
    assert [f.subject for f in found.findings] == ["U1", "U2"]
    load = found.axes["load main"]
    assert (found.which[load < 0.499] == 0).all()
    assert (found.which[load > 0.501] == 1).all()
    assert found.reserve[0, 0] == pytest.approx(0.1)
    assert found.reserve[FINE // 2] == pytest.approx(0.6)
    assert found.reserve[-1, -1] == pytest.approx(0.4)


def test_what_is_not_asked_or_not_known_somewhere_leaves_the_place_to_others() -> None:
    nothing = 0.8 - 0.4 * AMPERES
    nothing[:, :3], nothing[:, 4] = np.inf, np.nan
    found = binding([RISES, finding("U2", nothing, 1.0)], "main")
    assert found is not None
    assert (found.which[: FINE // 2] == 0).all()
    assert (found.which[-1] == 0).all()
    alone = binding([finding("U2", nothing, 1.0)], "main")
    assert alone is not None
    assert (alone.which[0] == -1).all()
    assert np.isnan(alone.reserve[0]).all()


def test_what_was_looked_at_over_other_axes_is_not_compared() -> None:
    other = finding("U3", np.zeros((5, 5)) - 1.0, 1.0, load_main=LOAD, input=LOAD)
    found = binding([RISES, FALLS, other], "main")
    assert found is not None
    assert found.compared == 2
    assert binding([fake_proof().findings[0]], "main") is None


def test_the_figure_numbers_its_regions_and_names_its_axes() -> None:
    found = binding([RISES, FALLS], "main")
    assert found is not None
    svg = binding_map(found, "b").replace("<svg", '<svg xmlns:xlink="x"', 1)
    texts = {"".join(e.itertext()) for e in ElementTree.fromstring(svg).iter("text")}
    assert {"1", "2", "load of main", "output setting of main", "200 mA"} <= texts
    assert any(text.endswith("%") for text in texts)
