"""The page in a real Chromium: from opening a supply to a saved change, a suspect, a proposal.

Needs a Chromium (see `browser`); where there is none these tests are skipped and say so.
"""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from desk.browser import browser, browser_path, desk

from railwright.circuit.design import read
from railwright.prove.as_json import as_json
from railwright.prove.run import prove
from railwright.surveys.operating_range import Choice

if browser_path() is None:
    pytest.skip("there is no Chromium on this machine", allow_module_level=True)

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, expect

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"
DESIGN = "panel-five-volts.toml"
LONG = 120_000  # ms: a first proof compiles, and the machine may be busy
FROM_DISK = """
fetch("api/open", {
  method: "POST", headers: { "content-type": "application/json" },
  body: JSON.stringify({ file: "supply.toml" }),
})
"""
VIEWS = ("propose", "prove", "make", "measure", "mend")


@pytest.fixture(scope="module")
def chromium() -> Iterator[Browser]:
    with browser() as found:
        yield found


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    found = tmp_path_factory.mktemp("desk")
    shutil.copy(EXAMPLES / DESIGN, found / "supply.toml")
    return found


@pytest.fixture(scope="module")
def address(folder: Path) -> Iterator[str]:
    with desk(folder, "supply.toml") as (found, _):
        yield found


@pytest.fixture
def page(chromium: Browser, address: str) -> Iterator[Page]:
    context = chromium.new_context(viewport={"width": 1280, "height": 720})
    found = context.new_page()
    wrong: list[str] = []
    found.on("pageerror", lambda error: wrong.append(str(error)))
    found.on("console", lambda said: wrong.append(said.text) if said.type == "error" else None)
    outside: list[str] = []
    found.on("request", lambda asked: outside.append(asked.url))
    found.goto(address)
    found.evaluate(FROM_DISK)  # what a test before left open does not count
    yield found
    assert not [url for url in outside if not url.startswith(("http://127.0.0.1:", "data:"))]
    assert not [text for text in wrong if "422" not in text and "409" not in text]
    context.close()


def proved(page: Page) -> dict[str, Any]:
    """What the page has once the proof at depth default is done."""
    expect(page.locator(".status")).to_contain_text("Proved at depth default", timeout=LONG)
    whole: dict[str, Any] = page.evaluate("fetch('api/whole').then((answer) => answer.json())")
    return whole


def value_box(page: Page, ref: str, value: str) -> Any:
    page.locator(".parts").get_by_role("button", name=ref, exact=True).click()
    return page.get_by_label(f"{value} of {ref}", exact=True)


def test_a_changed_value_ends_at_the_numbers_of_prove(page: Page, folder: Path) -> None:
    proved(page)
    box = value_box(page, "R1", "resistance")
    with page.expect_response(lambda answer: "/api/slopes" in answer.url):
        box.focus()
    before = box.input_value()
    number, unit = before.split()
    drawn = int(page.locator("canvas").get_attribute("data-drawn") or 0)
    box.fill(f"{float(number) * 1.05:.4g} {unit}")
    expect(page.locator(".stamp")).to_be_visible()  # the estimate, marked as one
    assert int(page.locator("canvas").get_attribute("data-drawn") or 0) > drawn
    expect(page.locator(".stamp")).to_have_count(0, timeout=LONG)
    whole = proved(page)
    page.get_by_role("button", name="Save").click()
    expect(page.locator(".file")).not_to_contain_text("not saved")
    told = as_json(prove(read(folder / "supply.toml"), nets=Choice()))["checks"]
    assert isinstance(told, list)
    shown = whole["proof"]["proof"]["checks"]
    assert [(c["id"], c["subject"], c["verdict"]) for c in shown] == [
        (c["id"], c["subject"], c["verdict"]) for c in told
    ]
    for one, other in zip(shown, told, strict=True):
        for told_too in ("value", "limit", "margin", "reserve"):
            assert one[told_too] == (
                None if other[told_too] is None else pytest.approx(other[told_too], rel=1e-9)
            )
    page.get_by_role("button", name="Undo").click()
    expect(box).to_have_value(before)


def test_a_change_in_an_editor_shows_up(page: Page, folder: Path) -> None:
    proved(page)
    path = folder / "supply.toml"
    text = path.read_text(encoding="utf-8")
    title = next(line for line in text.splitlines() if line.startswith("title"))
    path.write_text(text.replace(title, 'title = "Changed elsewhere"'), encoding="utf-8")
    expect(page.locator("h1")).to_have_text("Changed elsewhere", timeout=10_000)
    page.get_by_role("button", name="Undo").click()
    expect(page.locator("h1")).not_to_have_text("Changed elsewhere")
    page.get_by_role("button", name="Redo").click()
    path.write_text(text, encoding="utf-8")
    expect(page.locator("h1")).not_to_have_text("Changed elsewhere", timeout=10_000)


def test_a_wrong_value_gets_its_words(page: Page) -> None:
    proved(page)
    box = value_box(page, "R1", "resistance")
    box.fill("5 V")
    box.press("Enter")
    expect(page.get_by_role("alert")).to_contain_text("Ω")
    expect(page.locator(".file")).not_to_contain_text("not saved")


def test_the_map_is_worked_by_the_keyboard(page: Page) -> None:
    proved(page)
    page.locator("canvas").focus()
    page.keyboard.press("ArrowLeft")
    page.keyboard.press("Enter")
    expect(page.locator(".point table").first).to_contain_text("GND", timeout=LONG)


def test_papers_are_shown(page: Page) -> None:
    proved(page)
    page.get_by_role("navigation").get_by_role("link", name="Make").click()
    expect(page.get_by_role("button", name="schematic.svg")).to_be_visible(timeout=LONG)
    frame = page.frame_locator("iframe")
    expect(frame.locator("h1").first).to_be_visible(timeout=LONG)


def test_readings_lead_to_a_suspect(page: Page, folder: Path) -> None:
    proved(page)
    page.get_by_role("navigation").get_by_role("link", name="Measure").click()
    first = page.locator(".step").first
    expect(first).to_be_visible(timeout=LONG)
    first.locator("input").fill("OL")
    first.get_by_role("button", name="Keep").click()
    expect(page.locator(".step").first.locator("output")).to_contain_text("inside")
    assert (folder / "supply.readings").exists()
    page.get_by_role("navigation").get_by_role("link", name="Mend").click()
    expect(page.locator(".suspects li").first).to_be_visible(timeout=LONG)
    before = page.locator(".suspects li").all_inner_texts()
    box = page.locator(".next input")
    box.fill("0 V")
    page.locator(".next").get_by_role("button", name="Keep").click()
    expect(page.locator("section p").first).to_contain_text("After 1 reading", timeout=LONG)
    assert page.locator(".suspects li").all_inner_texts() != before


def test_a_need_is_proposed_for_and_one_candidate_is_taken(page: Page, folder: Path) -> None:
    page.get_by_role("navigation").get_by_role("link", name="Propose").click()
    page.get_by_label("Title").fill("Small five volts")
    page.get_by_label("Input Least").fill("9 V, 9 V, 10 V")
    page.get_by_label("Load").fill("0 A, 0.1 A")
    page.get_by_role("button", name="Work it out").click()
    expect(page.locator(".candidates table")).to_be_visible(timeout=LONG)
    expect(page.get_by_label("Source dc")).to_have_value("dc")
    page.get_by_label("Write the chosen one as").fill("chosen.toml")
    page.get_by_role("button", name="Take ").first.click()
    expect(page.locator(".file")).to_contain_text("chosen.toml", timeout=LONG)
    assert not read(folder / "chosen.toml").is_need_only


@pytest.mark.parametrize("view", VIEWS)
def test_no_view_shuts_anybody_out(page: Page, view: str) -> None:
    """axe-core finds nothing serious: WCAG 2.2 A and AA."""
    proved(page)
    page.goto(page.url.split("#")[0] + f"#{view}")
    page.wait_for_timeout(300)
    found = Axe().run(page)
    serious = [v for v in found.response["violations"] if v["impact"] in ("serious", "critical")]
    assert not serious, [(v["id"], [n["html"][:120] for n in v["nodes"]]) for v in serious]


@pytest.mark.parametrize("wide", [360, 1280])
def test_nothing_is_cut_off_to_the_side(page: Page, wide: int) -> None:
    page.set_viewport_size({"width": wide, "height": 720})
    proved(page)
    for view in VIEWS:
        page.goto(page.url.split("#")[0] + f"#{view}")
        page.wait_for_timeout(200)
        assert page.evaluate("document.documentElement.scrollWidth") <= wide, view


def test_more_tabs_than_connections(page: Page) -> None:
    """A browser keeps six connections to one host open; tabs beyond that still hear of changes."""
    proved(page)
    others = [page.context.new_page() for _ in range(9)]
    for other in others:
        other.goto(page.url)
        expect(other.locator("h1")).to_be_visible(timeout=LONG)
    box = value_box(page, "R1", "resistance")
    before = box.input_value()
    number, unit = before.split()
    box.fill(f"{float(number) * 1.02:.4g} {unit}")
    box.press("Enter")
    for other in others:
        expect(other.locator(".file")).to_contain_text("not saved", timeout=LONG)
        other.close()
    page.get_by_role("button", name="Undo").click()
