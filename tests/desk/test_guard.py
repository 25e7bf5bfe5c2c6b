"""What keeps others out: host, origin, token, contents, size; common attacks on a local page."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from railwright.desk.app import application
from railwright.desk.desk import Desk
from railwright.desk.guard import LARGEST, POLICY, Guard

PORT, TOKEN = 8123, "a-token-that-is-long-enough"
OWN = f"http://127.0.0.1:{PORT}"


@pytest.fixture
def stranger(desk: Desk) -> Iterator[TestClient]:
    """Someone who knows the port, and not the token."""
    client = TestClient(
        Guard(application(desk), PORT, TOKEN),
        base_url=OWN,
        follow_redirects=False,
        raise_server_exceptions=False,
    )
    yield client
    client.close()


@pytest.fixture
def client(stranger: TestClient) -> TestClient:
    """The page itself: it has been opened by the printed address."""
    answer = stranger.get("/", params={"token": TOKEN})
    assert answer.status_code == 303
    assert answer.headers["location"] == "/"  # the token does not stay in the address
    return stranger


def post(client: TestClient, path: str, sent: object, **headers: str) -> int:
    told = {"origin": OWN, "content-type": "application/json", **headers}
    return client.post(path, content=json.dumps(sent), headers=told).status_code


def test_the_printed_address_opens_the_page(client: TestClient) -> None:
    page = client.get("/")
    assert page.status_code == 200
    assert page.headers["content-security-policy"] == POLICY
    assert "unsafe-eval" not in POLICY
    assert "'unsafe-inline'" not in POLICY.split("style-src")[0]
    assert page.headers["x-content-type-options"] == "nosniff"


def test_the_cookie_is_kept_from_scripts_and_other_sites(stranger: TestClient) -> None:
    cookie = stranger.get("/", params={"token": TOKEN}).headers["set-cookie"].lower()
    assert "httponly" in cookie
    assert "samesite=strict" in cookie


@pytest.mark.parametrize("path", ["/", "/api/whole", "/api/events", "/page/desk.js", "/papers/x"])
def test_without_the_token_nothing_is_told(stranger: TestClient, path: str) -> None:
    assert stranger.get(path).status_code == 403
    assert stranger.get(path, params={"token": "wrong"}).status_code == 403
    stranger.cookies.set(f"railwright-{PORT}", "wrong")
    assert stranger.get(path).status_code == 403


@pytest.mark.parametrize(
    "host", ["evil.example", f"evil.example:{PORT}", "127.0.0.1", "127.0.0.1:1"]
)
def test_a_name_that_was_made_to_mean_loopback_is_refused(client: TestClient, host: str) -> None:
    assert client.get("/api/whole", headers={"host": host}).status_code == 421
    assert post(client, "/api/undo", {}, host=host) == 421


@pytest.mark.parametrize(
    "origin", ["http://evil.example", "null", f"https://127.0.0.1:{PORT}", "http://127.0.0.1:1"]
)
def test_another_site_changes_and_reads_nothing(client: TestClient, origin: str) -> None:
    assert post(client, "/api/undo", {}, origin=origin) == 403
    assert client.get("/api/whole", headers={"origin": origin}).status_code == 403


def test_a_form_of_another_site_is_refused_though_the_cookie_were_sent(client: TestClient) -> None:
    told = {"content-type": "application/x-www-form-urlencoded", "origin": OWN}
    assert client.post("/api/save", content="over=true", headers=told).status_code == 415
    assert client.post("/api/save", json={}).status_code == 403  # tells no origin
    assert client.get("/api/whole", headers={"sec-fetch-site": "cross-site"}).status_code == 403
    assert client.get("/api/save").status_code == 405


@pytest.mark.parametrize(
    "path",
    [
        "/page/../desk.py",
        "/page/%2e%2e/guard.py",
        "/page/..%2f..%2fcli.py",
        "/papers/..%2f..%2fx",
        "/page//etc/passwd",
    ],
)
def test_no_file_beside_the_page_is_served(client: TestClient, path: str) -> None:
    assert client.get(path).status_code == 404


@pytest.mark.parametrize(
    "file", ["../secret.toml", "/etc/passwd", "..\\x", "a/../../../x.toml", "\0"]
)
def test_no_design_outside_the_folder_is_opened(
    client: TestClient, folder: Path, file: str
) -> None:
    (folder.parent / "secret.toml").write_text("title = 'secret'", encoding="utf-8")
    assert post(client, "/api/open", {"file": file}) in (403, 422)


@pytest.mark.parametrize(
    "content", [b"", b"{", b"[]", b"null", b"\xff\xfe", b'{"a":' + b"[" * 100_000]
)
def test_broken_messages_are_refused_with_words(client: TestClient, content: bytes) -> None:
    told = {"origin": OWN, "content-type": "application/json"}
    answer = client.post("/api/value", content=content, headers=told)
    assert answer.status_code == 422
    assert answer.json()["refused"]


def test_a_message_that_is_too_large_is_refused(client: TestClient) -> None:
    assert post(client, "/api/text", {"text": "x" * LARGEST}) == 413
    told = {"origin": OWN, "content-type": "application/json"}
    chunks = (b"x" * 65536 for _ in range(LARGEST // 65536 + 2))  # of unknown length
    assert client.post("/api/text", content=chunks, headers=told).status_code == 413


@pytest.mark.parametrize("method", ["PUT", "DELETE", "PATCH", "OPTIONS", "TRACE"])
def test_other_methods_are_not_known(client: TestClient, method: str) -> None:
    assert client.request(method, "/api/whole").status_code == 405
