"""Write docs/desk anew: two pictures of each leaf of the page, as a browser shows them.

Chromium is found on the PATH, or under the path in RAILWRIGHT_CHROMIUM.
"""

from __future__ import annotations

import shutil
import sys
import tempfile
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT / "tests"))

from desk.browser import browser, desk  # noqa: E402

FOLDER = ROOT / "docs" / "desk"
DEMO = "radio-bench-rail.toml"
LONG = 600_000  # ms
SIZE = {"width": 1280, "height": 720}
Shot = Callable[[Any], None]


def opened(page: Any, leaf: str) -> None:
    """A leaf of the page."""
    page.get_by_role("navigation").get_by_role("link", name=leaf).click()


def prove(page: Any) -> None:
    """The map and the ledger."""
    opened(page, "Prove")
    page.get_by_text("Proved at depth default").wait_for(timeout=LONG)
    page.locator(".drawing svg").wait_for(timeout=LONG)


def estimate(page: Any) -> None:
    """A value that is being typed."""
    page.locator(".parts").get_by_role("button", name="R3", exact=True).click()
    box = page.get_by_label("resistance of R3", exact=True)
    with page.expect_response(lambda answer: "/api/slopes" in answer.url, timeout=LONG):
        box.focus()
    page.wait_for_timeout(500)
    box.fill("110 Ω")
    page.locator(".stamp").wait_for(timeout=LONG)


def drawing(page: Any) -> None:
    """Back to what the file has, and the drawing in sight."""
    page.get_by_role("button", name="Undo").click()
    prove(page)
    page.locator(".drawing").scroll_into_view_if_needed()


def report(page: Any) -> None:
    """The report among the papers."""
    opened(page, "Make")
    page.frame_locator("iframe").locator("h1").first.wait_for(timeout=LONG)


def schematic(page: Any) -> None:
    """One of the papers."""
    page.get_by_role("button", name="schematic.svg").click()
    page.frame_locator("iframe").locator("svg").first.wait_for(timeout=LONG)


def steps(page: Any) -> None:
    """What to read first."""
    opened(page, "Measure")
    page.locator(".step").first.wait_for(timeout=LONG)


def readings(page: Any) -> None:
    """Some of it read."""
    for number in range(3):
        step = page.locator(".step").nth(number)
        step.locator("input").fill("OL")
        step.get_by_role("button", name="Keep").click()
        step.locator("output").wait_for(timeout=LONG)


def suspects(page: Any) -> None:
    """What may be wrong before anything is known."""
    opened(page, "Mend")
    page.locator(".suspects li").first.wait_for(timeout=LONG)
    page.locator(".drawing svg").wait_for(timeout=LONG)


def found(page: Any) -> None:
    """After a reading that is not as it should be."""
    page.locator(".next input").first.fill("0 V")
    page.locator(".next").get_by_role("button", name="Keep").click()
    page.get_by_text("After 1 reading").wait_for(timeout=LONG)


def need(page: Any) -> None:
    """The form of a need."""
    opened(page, "Propose")


def candidates(page: Any) -> None:
    """What serves it."""
    page.get_by_role("button", name="Work it out").click()
    page.locator(".candidates table").wait_for(timeout=LONG)


SHOTS: Mapping[str, Shot] = {
    "prove-1": prove,
    "prove-2": estimate,
    "prove-3": drawing,
    "make-1": report,
    "make-2": schematic,
    "measure-1": steps,
    "measure-2": readings,
    "mend-1": suspects,
    "mend-2": found,
    "propose-1": need,
    "propose-2": candidates,
}


def main() -> None:
    """Serve a copy of the demo, go through the leaves, keep the pictures."""
    FOLDER.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as folder:
        shutil.copy(ROOT / "examples" / DEMO, folder)
        with desk(Path(folder), DEMO) as (address, _), browser() as chromium:
            page = chromium.new_page(viewport=SIZE)
            page.goto(address)
            for name, take in SHOTS.items():
                take(page)
                page.wait_for_timeout(400)
                page.screenshot(path=FOLDER / f"{name}.png")
                print(FOLDER / f"{name}.png", flush=True)


if __name__ == "__main__":
    main()
