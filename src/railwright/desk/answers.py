"""How a view reads what it was sent, and answers."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from typing import Any

import anyio
from starlette.requests import Request
from starlette.responses import JSONResponse, Response

Work = Callable[[Mapping[str, Any]], object]
"""From what was sent to plain data; runs in a thread of its own."""


class Refused(ValueError):
    """Something that was asked cannot be done: what was found, what is wanted."""


def answering(work: Work) -> Callable[[Request], Any]:
    """An end point that hands on what was sent, in the query or as a JSON object."""

    async def answer(request: Request) -> Response:
        sent = await _sent(request)
        return JSONResponse(await anyio.to_thread.run_sync(work, sent))

    return answer


def text(sent: Mapping[str, Any], name: str) -> str:
    """A text that was sent. Refused where there is none."""
    found = sent.get(name)
    if not isinstance(found, str):
        raise Refused(f"{name} is missing, or is no text.")
    return found


async def _sent(request: Request) -> Mapping[str, Any]:
    if request.method != "POST":
        return dict(request.query_params)
    try:
        found = json.loads(await request.body())
    except (ValueError, RecursionError) as error:
        raise Refused(f"What was sent is no JSON: {error}.") from error
    if not isinstance(found, dict):
        raise Refused("What was sent is no JSON object.")
    return found
