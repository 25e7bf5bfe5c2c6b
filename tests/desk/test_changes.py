"""What the page may change, by its own requests: values, undo, save, several at once."""

from __future__ import annotations

import json
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient

from railwright.desk.app import application
from railwright.desk.desk import Desk


@pytest.fixture
def client(desk: Desk) -> Iterator[TestClient]:
    with TestClient(application(desk), raise_server_exceptions=False) as client:
        yield client


def until(client: TestClient, done: Callable[[dict[str, Any]], bool]) -> dict[str, Any]:
    """The whole state once something is so."""
    for _ in range(600):
        whole: dict[str, Any] = client.get("/api/whole").json()
        if done(whole):
            return whole
        time.sleep(0.05)
    raise AssertionError("it never was so")


def tell(client: TestClient, name: str, **sent: object) -> dict[str, Any]:
    answer = client.post(f"/api/{name}", json=sent)
    assert answer.status_code == 200, answer.text
    found: dict[str, Any] = answer.json()
    return found


def proved(whole: dict[str, Any]) -> bool:
    return bool(whole["proof"]) and (
        whole["proof"]["revision"] == whole["state"]["revision"]
        and whole["proof"]["depth"] == "default"
    )


def reserve(whole: dict[str, Any], id: str) -> float:
    return float(next(c["reserve"] for c in whole["proof"]["proof"]["checks"] if c["id"] == id))


def test_a_changed_value_is_proved_again(client: TestClient) -> None:
    before = until(client, proved)
    state = tell(client, "value", part="R2", value="resistance", text="220 Ω")
    assert not state["saved"]
    after = until(client, proved)
    assert after["state"]["revision"] > before["state"]["revision"]
    assert [c["id"] for c in after["proof"]["proof"]["checks"]]
    assert after["map"]["revision"] == after["state"]["revision"]


def test_a_wrong_value_is_refused_with_what_is_wanted(client: TestClient) -> None:
    answer = client.post("/api/value", json={"part": "R2", "value": "resistance", "text": "5 V"})
    assert answer.status_code == 422
    assert "Ω" in answer.json()["refused"]


def test_several_changes_are_one_step(client: TestClient) -> None:
    changes = [
        {"part": "R1", "value": "resistance", "to": "120 Ω"},
        {"part": "R2", "value": "resistance", "to": "240 Ω"},
    ]
    tell(client, "changes", changes=changes)
    state = tell(client, "undo")
    assert not state["can_undo"]
    assert state["can_redo"]


def test_save_writes_and_a_change_elsewhere_shows_up(client: TestClient, folder: Path) -> None:
    tell(client, "value", part="R2", value="resistance", text="220 Ω")
    assert tell(client, "save")["saved"]
    path = folder / "small.toml"
    text = path.read_text(encoding="utf-8")
    assert "220 Ω" in text
    path.write_text(text.replace("220 Ω", "270 Ω"), encoding="utf-8")
    found = until(client, lambda whole: "270 Ω" in whole["state"]["text"])
    assert found["state"]["saved"]


def test_names_that_look_like_script_stay_words(client: TestClient, folder: Path) -> None:
    """They reach the page as data alone; the drawing has them escaped."""
    path = folder / "small.toml"
    text = path.read_text(encoding="utf-8")
    evil = "<script>alert(1)</script>"
    path.write_text(text.replace('"OUT"', f'"{evil}"'), encoding="utf-8")
    whole = until(client, lambda w: evil in w["state"]["text"] or w["state"]["broken"])
    assert whole["state"]
    assert "<script" not in client.get("/api/drawing").json()["svg"]


def test_a_point_tells_voltages_and_heat(client: TestClient) -> None:
    whole = until(client, proved)
    axes = whole["map"]["axes"]
    at = {name: places[-1] for name, places in axes.items()}
    found = client.get("/api/point", params={"at": json.dumps(at)}).json()
    assert dict(found["nets"])["GND"] == pytest.approx(0.0, abs=1e-9)
    assert found["heat"][0][1] > 0
    for wrong in ("{}", "[]", "x", json.dumps({**at, "input": 1e9})):
        assert client.get("/api/point", params={"at": wrong}).status_code == 422


def test_nothing_is_open() -> None:
    with TestClient(application(Desk(Path.cwd()))) as client:
        assert client.get("/api/whole").json()["state"] is None
        assert client.post("/api/undo", json={}).status_code == 409
