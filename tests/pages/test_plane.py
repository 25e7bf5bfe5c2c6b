"""Maps laid flat: the worst of what is not shown, and what is not known stays so."""

from dataclasses import replace
from itertools import product

import numpy as np
from pages.fake_proof import fake_proof

from railwright.pages.plane import Plane, plane_of
from railwright.prove.proof import Array, Finding, MarginMap, Place

FINDINGS = {finding.id: finding for finding in fake_proof().findings}


def plane(subject: str = "U2", **axes: list[float]) -> Plane:
    """The plane of a map with margins 0, 1, 2 ..., its axes' names with _ for a space."""
    places = {name.replace("_", " "): np.array(at) for name, at in axes.items()}
    margins = np.arange(np.prod([at.size for at in places.values()]), dtype=float)
    found = replace(FINDINGS["headroom.series"], subject=subject, map=MarginMap(places, margins))
    made = plane_of(found)
    assert made is not None
    return made


def test_is_the_worst_over_input_and_ambient() -> None:
    found = plane_of(FINDINGS["headroom.series"])
    whole = FINDINGS["headroom.series"].map
    assert found is not None
    assert whole is not None
    assert list(found.axes) == ["load main", "output main"]
    sizes = [at.size for at in found.axes.values()]
    for load, output in product(*map(range, sizes)):
        assert found.margins[load, output] == np.asarray(whole.margins)[output, load].min()
    assert not found.unknown.any()


def test_what_is_not_known_is_marked_and_does_not_hide_the_rest() -> None:
    found = plane_of(FINDINGS["output.load-regulation"])
    assert found is not None
    assert found.unknown.sum() == 1
    assert found.unknown[0, 0]
    assert np.isfinite(found.margins[0, 0])


def test_all_unknown_is_not_a_number() -> None:
    axes = {"load main": np.array([0.0, 1.0])}
    found = plane_of(_with(axes, np.array([np.nan, 2.0])))
    assert found is not None
    assert np.isnan(found.margins[0])


def test_not_asked_is_infinite() -> None:
    found = plane_of(FINDINGS["output.load-regulation"])
    assert found is not None
    assert np.isposinf(found.margins[:, -1]).all()


def test_a_single_place_is_no_plane() -> None:
    axes = {"output main": np.array([5.0]), "load main": np.array([1.0])}
    assert plane_of(_with(axes, np.array([0.1]))) is None
    assert plane_of(replace(FINDINGS["headroom.series"], map=None)) is None


def test_of_several_rails_the_subject_is_shown() -> None:
    rails = {"output_a": [1.0, 2.0], "output_b": [3.0, 4.0], "load_a": [0.0, 1.0]}
    assert list(plane("b", load_b=[0.0, 1.0], **rails).axes) == ["load b", "output b"]
    assert list(plane("U2", load_b=[0.0, 1.0], **rails).axes) == ["load a", "output a"]


def test_a_fixed_rail_is_shown_against_what_varies() -> None:
    found = plane(output_main=[5.0], load_main=[0.0, 1.0], input=[9.0, 12.0])
    assert list(found.axes) == ["input", "load main"]


class TestWorst:
    def test_is_the_findings_own(self) -> None:
        where = Place({"main": 12.0}, {"main": 1.0}, 18.0, 300.0)
        found = plane(output_main=[3.3, 12.0], load_main=[0.0, 1.0])
        assert found.worst(where) == (1.0, 12.0)

    def test_is_the_lowest_where_none_is_told(self) -> None:
        found = plane(output_main=[3.3, 12.0], load_main=[0.25, 1.0])
        assert found.worst(None) == (0.25, 3.3)

    def test_is_nowhere_where_nothing_is_known(self) -> None:
        found = plane_of(_with({"input": np.array([9.0, 12.0])}, np.array([np.nan, np.inf])))
        assert found is not None
        assert found.worst(None) is None


def _with(axes: dict[str, Array], margins: Array) -> Finding:
    return replace(FINDINGS["headroom.series"], where=None, map=MarginMap(axes, margins))
