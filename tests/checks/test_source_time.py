"""How long a source is in its limit while a capacitor charges: C V = I t."""

from __future__ import annotations

import numpy as np
import pytest
from checks.test_transients import VOLTS, capacitor
from surveys.supplies import resistor, supply

from railwright.circuit.design import read_text
from railwright.prove.proof import Finding
from railwright.prove.run import prove
from railwright.surveys.courses import Record
from railwright.surveys.fixture import IN_LIMIT, SOURCE

LIMIT, LOAD, FARADS = 2.0, 0.5, 2.2e-3


def findings(
    style: str, gives_up_after: float | None, farads: float, tolerance: str = "0 %"
) -> dict[str, Finding]:
    """What a proof says of a capacitor and 0.5 A behind a brick of 2 A, by check."""
    after = f', gives_up_after = "{gives_up_after} s"' if gives_up_after is not None else ""
    limit = f'limit = {{ current = "{LIMIT} A", style = "{style}"{after} }}'
    source = f'resistance = "0.1 Ω"\n{limit}'
    text = supply(
        resistor("R1", "IN", "OUT", 0.01) + capacitor(farads, 1e-3),
        input=(VOLTS, VOLTS, VOLTS),
        volts=(VOLTS, VOLTS),
        amperes=(LOAD, LOAD),
    ).replace('resistance = "0 Ω"', source, 1)
    exact = f'capacitance = {{ typical = "{farads} F", tolerance = "0 %" }}'
    assert exact in text
    text = text.replace(exact, exact.replace("0 %", tolerance))
    only = ("overload", "transient")
    return {f.id: f for f in prove(read_text(text, "source.toml"), only=only).findings}


def found(gives_up_after: float) -> Finding:
    """How long 2.2 mF keep a brick that hiccups in its limit."""
    return findings("hiccup", gives_up_after, FARADS)["overload.source-time"]


def test_a_source_in_its_limit_charges_what_its_load_leaves() -> None:
    """t = C V / (I - load): an electronic load takes its current from 0.3 V on.

    The limit ends 0.2 V early, where the source's resistance takes over.
    """
    wanted = FARADS * (VOLTS - 0.11 * LIMIT) / (LIMIT - LOAD)
    short = found(0.9 * wanted)
    assert short.value == pytest.approx(wanted, rel=0.01)
    assert short.verdict == "falls short"
    assert found(1.5 * wanted).verdict == "holds"


def test_a_larger_capacitor_of_its_tolerance_takes_longer() -> None:
    """Samples within it pass: 1.2 times as much capacitance, as much more time."""
    wanted = FARADS * (VOLTS - 0.11 * LIMIT) / (LIMIT - LOAD)
    told = findings("hiccup", 1.19 * wanted, FARADS, "20 %")["overload.source-time"]
    assert told.value == pytest.approx(1.2 * wanted, rel=0.01)
    assert told.verdict == "falls short"
    assert (told.causes[0].part, told.causes[0].value) == ("C1", "capacitance")


@pytest.mark.parametrize(
    "times", [np.linspace(0.0, 40e-3, 23), np.append(0.0, np.geomspace(1e-4, 40e-3, 90))]
)
def test_wherever_the_instants_lie_the_time_in_its_limit_is_the_same(times: np.ndarray) -> None:
    """A constant current fills a capacitor: t = C V / I, from when the source is all there.

    What it keeps back rises with it and falls again, until the load alone takes its current.
    """
    begins, there = 1.3e-3, 6e-3
    charges = FARADS * VOLTS / (LIMIT - LOAD)
    back = VOLTS * np.minimum((times - begins) / (there - begins), 1 - (times - there) / charges)
    drive = np.where(back > 0, LIMIT + back, LOAD)
    limit = np.full(times.size, LIMIT / IN_LIMIT)
    rows = {(SOURCE, "drive"): drive[None], (SOURCE, "current_limit"): limit[None]}
    (found,) = Record(times, rows, np.array([True])).in_limit
    assert found == pytest.approx(there + charges - begins, rel=1e-9)


CHARGED = FARADS * VOLTS / (LIMIT - LOAD)


@pytest.mark.parametrize(
    ("style", "gives_up_after", "verdict"),
    [
        ("constant-current", None, "holds"),
        ("constant-current", 0.5 * CHARGED, "not proven"),
        ("hiccup", 2.0 * CHARGED, "holds"),
        ("hiccup", 0.5 * CHARGED, "not proven"),
        ("hiccup", None, "not proven"),
        ("latch-off", None, "not proven"),
        ("foldback", None, "not proven"),
        ("foldback", 2.0 * CHARGED, "not proven"),
        ("fuse", None, "not proven"),
    ],
)
def test_what_leans_on_a_limit_that_is_not_followed_is_not_proven(
    style: str, gives_up_after: float | None, verdict: str
) -> None:
    """Once it is in its limit, a source of most styles gives another current than that."""
    told = findings(style, gives_up_after, FARADS)
    assert told["transient.comes-up"].verdict == verdict
    reason = "the source is in its limit for"
    assert (reason in told["transient.comes-up"].because) == (verdict == "not proven")
    if style == "foldback" and gives_up_after is not None:
        assert {told[f"overload.{c}"].verdict for c in ("inrush", "source-time")} == {"not proven"}


@pytest.mark.parametrize(
    ("style", "verdict"), [("constant-current", "holds"), ("foldback", "not proven")]
)
def test_so_is_what_follows_a_sag(style: str, verdict: str) -> None:
    """An input that comes back within 0.1 s asks 3 A for 30 mF that have to rise by 10 V."""
    assert findings(style, None, 30e-3)["transient.returns"].verdict == verdict


@pytest.mark.parametrize("style", ["foldback", "hiccup", "fuse"])
def test_a_source_that_stays_clear_of_its_limit_may_have_any(style: str) -> None:
    """10 µF that rise by 10 V within 1 ms take 0.1 A beside the load."""
    told = findings(style, None, 10e-6)
    assert told["transient.comes-up"].verdict == told["transient.returns"].verdict == "holds"


def test_lanes_beyond_what_is_followed_tell_so() -> None:
    """A typical capacitor just charges within the time, larger ones of the samples do not."""
    took = found(2.0 * CHARGED).value
    assert took is not None
    told = findings("hiccup", 1.001 * took, FARADS, "20 %")["transient.comes-up"]
    assert told.verdict == "not proven"
    assert "lanes take the source into its limit for more than" in told.because
    assert "could not be solved" not in told.because
