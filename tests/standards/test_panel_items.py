"""Openings in panels against the standards that have them."""

from __future__ import annotations

import pytest

from railwright.catalogue.loader import load
from railwright.standards.panel_items import ITEMS, item_of, panel_item


@pytest.mark.parametrize(
    ("face", "cut"), [("48 × 24 mm", (45.0, 22.2)), ("96 × 48 mm", (92.0, 45.0))]
)
def test_cut_outs_of_meters(face: str, cut: tuple[float, float]) -> None:
    # DIN 43700: cut-outs of 45 x 22.2 mm and 92 x 45 mm for these faces (from memory).
    found = panel_item(f"panel meter, {face}").cuts[0]
    assert (found.width * 1e3, found.height * 1e3) == pytest.approx(cut)


def test_screws_of_an_inlet_are_forty_millimetres_apart() -> None:
    # IEC 60320-1, standard sheet C14, flange with two screws (from memory).
    screws = [cut for cut in panel_item("mains inlet, C14").cuts if cut.is_round]
    assert abs(screws[0].right - screws[1].right) * 1e3 == pytest.approx(40.0)


def test_sizes_of_ones_own() -> None:
    assert panel_item("hole, 6.5 mm").cuts[0].width == pytest.approx(6.5e-3)
    cut = panel_item("cut-out, 45 × 22 mm").cuts[0]
    assert (cut.width, cut.height) == pytest.approx((45e-3, 22e-3))
    sink = panel_item("heat sink, 100 × 60 mm")
    assert len(sink.cuts) == 4
    assert (sink.width, sink.height) == pytest.approx((0.1, 0.06))


@pytest.mark.parametrize("name", sorted(ITEMS))
def test_no_opening_is_larger_than_the_room_of_its_item(name: str) -> None:
    item = panel_item(name)
    for cut in item.cuts:
        assert abs(cut.right) + cut.width / 2.0 <= item.width / 2.0
        assert abs(cut.up) + (cut.height or cut.width) / 2.0 <= item.height / 2.0


def test_an_unknown_item_is_told_with_what_may_be_written() -> None:
    with pytest.raises(
        ValueError, match=r'no panel item "teminal"\. Write one of .*"hole, 6.5 mm"'
    ):
        panel_item("teminal")


def test_every_panel_package_of_the_catalogue_has_an_item() -> None:
    packages = {e.package for e in load().values() if e.package.startswith("panel")}
    assert packages
    for package in packages:
        assert panel_item(item_of(package)).cuts
