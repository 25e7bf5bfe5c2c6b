"""What every kind must say about itself."""

import re

import pytest

from railwright.devices import kinds
from railwright.quantity import UNITS
from railwright.standards.derating import POLICIES

pytestmark = pytest.mark.parametrize("kind", sorted(kinds()))

FAULTLESS = {"heat-sink", "enclosure"}
"""Bought parts in which nothing fails by itself."""
SOURCE = re.compile(r"Source:|law|definition|from memory|no source|JESD|IEC|Faraday")


def test_docstring_names_the_source_of_the_equations(kind: str) -> None:
    text = type(kinds()[kind]).__doc__ or ""
    assert SOURCE.search(text), f"{kind} does not say where its equations come from"


def test_units_are_known(kind: str) -> None:
    device = kinds()[kind]
    units = [v.unit for v in device.values.values()]
    units += [r.unit for r in device.ratings.values()] + list(device.observes.values())
    assert set(units) <= UNITS.keys()


def test_values_and_ratings_of_one_name_agree(kind: str) -> None:
    device = kinds()[kind]
    for name in device.values.keys() & device.ratings.keys():
        assert device.values[name].unit == device.ratings[name].unit


def test_names_mean_one_thing(kind: str) -> None:
    device = kinds()[kind]
    assert not device.values.keys() & device.inputs.keys()
    assert not device.unknowns.keys() & device.pins.keys()
    keys = {"ref", "kind", "pins", "use", "block", "why", "package", "tracks", "options",
            "terminals"}  # fmt: skip
    stated = device.values.keys() | device.ratings.keys()
    assert not (stated | device.windows.keys()) & keys
    assert not stated & device.windows.keys()


def test_ratings_bound_declared_observables(kind: str) -> None:
    device = kinds()[kind]
    for rating in device.ratings.values():
        assert device.observes[rating.bounds] == rating.unit


def test_derating_rows_are_named_whole(kind: str) -> None:
    for rating in kinds()[kind].ratings.values():
        assert bool(rating.family) == bool(rating.quantity)


def test_limits_of_values_are_in_order(kind: str) -> None:
    for value in kinds()[kind].values.values():
        if value.least is not None and value.most is not None:
            assert value.least < value.most
        if value.default is not None and value.least is not None:
            assert value.least <= value.default


READS_WRONG = ("panel-meter",)


def test_fault_shares_sum_to_one(kind: str) -> None:
    faults = kinds()[kind].faults
    if kinds()[kind].surroundings or kind in FAULTLESS:
        assert not faults
    else:
        assert sum(f.share for f in faults) == pytest.approx(1.0, abs=0.005)


def test_a_drift_moves_values_of_the_kind(kind: str) -> None:
    """Unless it shows in nothing but the part's own reading."""
    device = kinds()[kind]
    for fault in device.faults:
        if fault.name == "drift":
            assert kind in READS_WRONG or set(fault.moves) & device.values.keys()
        else:
            assert not fault.moves


def test_pin_names_exist(kind: str) -> None:
    device = kinds()[kind]
    named = [pin for pair in (*device.conducts, *device.polar) for pin in pair]
    named += [pin for fault in device.faults for pin in fault.between]
    named += [pin for link in device.links.values() for pin in (link.at, link.to) if pin]
    assert set(named) <= device.pins.keys()


def test_links_lead_to_pins(kind: str) -> None:
    for link in kinds()[kind].links.values():
        for other in link.kinds:
            assert set(link.pins) <= kinds()[other].pins.keys()


def test_windows_lie_at_pins_and_links(kind: str) -> None:
    device = kinds()[kind]
    for window in device.windows.values():
        assert 1 <= len(window.pins) <= 2
        assert set(window.pins) <= device.pins.keys()
        assert window.unit in UNITS
        if window.beyond:
            assert device.links[window.beyond].at == window.pins[0]
        if window.or_else:
            other = device.windows[window.or_else]
            assert (other.quantity, other.pins) == (window.quantity, window.pins)


def test_two_state_parts_can_be_forced(kind: str) -> None:
    device = kinds()[kind]
    if device.two_state:
        assert device.unknowns["state"].unit == "1"
        assert device.inputs.keys() >= {"free", "forced"}
    assert {*device.drives, *device.loads} <= device.inputs.keys()


def test_options_offer_choices(kind: str) -> None:
    assert all(kinds()[kind].options.values())


def test_derating_families_exist_or_are_known_to_be_missing(kind: str) -> None:
    device = kinds()[kind]
    policy = POLICIES["NASA MIL-STD-975M"]
    families = {family for family, _ in policy.rows} | policy.junctions.keys() | {"fuse", ""}
    missing = {  # MIL-STD-975M has no row for these; checks say `not proven` there
        "wire",
        "switch",
        "inductor",
        "thermistor",
        "capacitor aluminium electrolytic",
        "capacitor polymer",
    }
    for choice in device.options.get("dielectric", ("",)):
        for rating in device.ratings:
            assert device.derating_family(rating, {"dielectric": choice}) in families | missing
