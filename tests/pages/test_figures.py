"""Figures: units, limit, the place of the worst case; what stands in a page's SVG."""

import re
from collections.abc import Callable
from dataclasses import replace
from xml.etree import ElementTree

import numpy as np
import pytest
from pages.fake_proof import fake_proof

from railwright.pages.curve_figures import curve_figures
from railwright.pages.figures import margin_map, sample_histogram
from railwright.prove.proof import Array, Finding, MarginMap

Draw = Callable[[Finding, str], str]
FINDINGS = {finding.id: finding for finding in fake_proof().findings}
HEADROOM = FINDINGS["headroom.series"]
HATCHED = re.compile(r"fill: url\(#")


def texts(svg: str) -> list[str]:
    return ["".join(e.itertext()) for e in ElementTree.fromstring(parsable(svg)).iter("text")]


def parsable(svg: str) -> str:
    """An element of a page as XML, which wants the name space that HTML knows by itself."""
    return svg.replace("<svg", '<svg xmlns:xlink="x"', 1)


def mapped(margins: Array, **axes: list[float]) -> Finding:
    places = {name.replace("_", " "): np.array(at) for name, at in axes.items()}
    return replace(HEADROOM, where=None, map=MarginMap(places, margins))


class TestMap:
    def test_says_axes_units_and_the_worst(self) -> None:
        found = texts(margin_map(HEADROOM, "a"))
        assert {"load of main", "output setting of main", "worst: -1.08 V"} <= set(found)
        assert {"200 mA", "12 V"} <= set(found)

    def test_contours_carry_their_margin(self) -> None:
        found = texts(margin_map(HEADROOM, "a"))
        assert {"2 V", "4 V", "0 V"} <= set(found)

    def test_tells_near_contours_and_ticks_apart(self) -> None:
        near = mapped(np.array([4.98, 5.0, 5.01, 5.02]), output_a=[5.0, 5.001], load_a=[0.0, 1.0])
        found = texts(margin_map(replace(near, unit="W"), "a"))
        assert len(set(found)) == len(found)

    def test_hatches_only_what_falls_short(self) -> None:
        assert HATCHED.search(margin_map(HEADROOM, "a"))
        assert not HATCHED.search(margin_map(FINDINGS["stress.junction"], "a"))

    def test_temperatures_are_in_celsius(self) -> None:
        found = texts(margin_map(FINDINGS["overload.carries"], "a"))
        assert "ambient" in found
        assert "30 °C" in found
        assert not [text for text in found if "313" in text]

    @pytest.mark.parametrize("margin", [-2.0, 0.0, 3.0])
    def test_a_margin_that_is_the_same_everywhere_is_said(self, margin: float) -> None:
        svg = margin_map(mapped(np.full(4, margin), output_a=[1.0, 2.0], load_a=[0.0, 1.0]), "a")
        assert [text for text in texts(svg) if text.endswith("everywhere")]
        assert bool(HATCHED.search(svg)) == (margin < 0)

    def test_of_one_axis_is_a_curve_with_the_limit(self) -> None:
        svg = margin_map(mapped(np.array([-0.5, np.nan, 2.0]), load_a=[0.0, 0.5, 1.0]), "a")
        found = texts(svg)
        assert {"load of a", "margin"} <= set(found)
        assert HATCHED.search(svg)

    def test_is_none_where_nothing_was_looked_over(self) -> None:
        assert margin_map(replace(HEADROOM, map=None), "a") == ""
        assert margin_map(mapped(np.array([np.nan, np.inf]), load_a=[0.0, 1.0]), "a") == ""

    @pytest.mark.parametrize(
        "name", ["$x$", "a$b", "主轨", "<b>", "a&b", "\\1", "long " * 60 + "!"]
    )
    def test_takes_any_name_of_a_rail(self, name: str) -> None:
        axes = {f"output {name}": np.array([1.0, 2.0]), f"load {name}": np.array([0.0, 1.0])}
        finding = replace(HEADROOM, subject=name, map=MarginMap(axes, np.arange(4.0)))
        assert f"load of {name}" in texts(margin_map(finding, "a"))

    def test_where_nothing_is_asked_is_dotted(self) -> None:
        plain = mapped(np.array([1.0, 2.0, 3.0, 4.0]), output_a=[1.0, 2.0], load_a=[0.0, 1.0])
        part = mapped(np.array([1.0, 2.0, 3.0, np.inf]), output_a=[1.0, 2.0], load_a=[0.0, 1.0])
        assert not HATCHED.search(margin_map(plain, "a"))
        assert HATCHED.search(margin_map(part, "a"))


class TestHistogram:
    def test_says_limit_and_unit(self) -> None:
        found = texts(sample_histogram(HEADROOM, "a"))
        assert {"limit", "margin", "samples", "500 mV"} <= set(found)

    def test_hatches_exactly_what_lies_beyond_the_limit(self) -> None:
        few = replace(HEADROOM, samples=np.array([-1.0, 1.0, 2.0, 3.0]))
        assert len(HATCHED.findall(sample_histogram(few, "a"))) > 0
        good = replace(HEADROOM, samples=np.array([0.0, 1.0, 2.0, 3.0]))
        assert not HATCHED.search(sample_histogram(good, "a"))

    @pytest.mark.parametrize("samples", [[0.0, 0.0], [3.0], [1e9, 1e9 + 1e-3], [-1e-12, 1e-12]])
    def test_takes_any_samples(self, samples: list[float]) -> None:
        assert "limit" in texts(sample_histogram(replace(HEADROOM, samples=np.array(samples)), "a"))

    def test_is_none_without_known_samples(self) -> None:
        assert sample_histogram(replace(HEADROOM, samples=None), "a") == ""
        assert sample_histogram(replace(HEADROOM, samples=np.array([np.nan])), "a") == ""


@pytest.mark.parametrize("draw", [margin_map, sample_histogram])
class TestElement:
    def test_is_the_same_every_time(self, draw: Draw) -> None:
        assert draw(HEADROOM, "a") == draw(HEADROOM, "a")

    def test_has_ids_of_its_own_and_refers_to_no_others(self, draw: Draw) -> None:
        svg = draw(HEADROOM, "one")
        ids = re.findall(r'\bid="([^"]*)"', svg)
        named = re.findall(r'(?:url\(|href=")#([^)"]*)', svg)
        assert len(set(ids)) == len(ids)
        assert all(id.startswith("one-") for id in ids)
        assert set(named) <= set(ids)
        assert named

    def test_fetches_nothing(self, draw: Draw) -> None:
        assert "http" not in draw(HEADROOM, "a")


class TestCurves:
    def test_say_axes_units_lines_and_levels(self) -> None:
        (title, svg), _ = curve_figures(FINDINGS["output.load-regulation"], "c")
        assert title == "Steps of the load"
        found = set(texts(svg))
        assert {"time since the step", "load 100 mA to 800 mA", "and back", "least 4.7 V"} <= found
        assert "200 µs" in found

    def test_what_belongs_together_is_one_figure_over_one_axis(self) -> None:
        _, (title, svg) = curve_figures(FINDINGS["output.load-regulation"], "c")
        found = texts(svg)
        assert title == "Loop through U2"
        assert [found.count(label) for label in ("frequency", "gain", "phase above -180°")] == [
            1
        ] * 3
        assert {"10 kHz", "unity 0 dB", "90°"} <= set(found)

    def test_lines_tell_themselves_apart_without_colour(self) -> None:
        (_, svg), _ = curve_figures(FINDINGS["output.load-regulation"], "c")
        assert "stroke-dasharray" in svg

    def test_there_are_none_where_a_check_draws_nothing(self) -> None:
        assert curve_figures(HEADROOM, "c") == []
