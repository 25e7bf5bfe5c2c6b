"""What the page asks, and who answers."""

from __future__ import annotations

import traceback
from collections.abc import AsyncIterator, Awaitable, Callable
from contextlib import asynccontextmanager
from pathlib import Path

import anyio
from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import JSONResponse, Response, StreamingResponse
from starlette.routing import Mount, Route
from starlette.staticfiles import StaticFiles

from railwright.circuit.circuit import CircuitError
from railwright.circuit.writer import EditError
from railwright.desk import bench_view, make_view, mend_view, propose_view, range_view
from railwright.desk.answers import Refused
from railwright.desk.desk import Desk, NothingOpen
from railwright.desk.guard import TooLarge
from railwright.desk.opened import ChangedOnDisk, Outside
from railwright.files.mistakes import FileError

PAGE = Path(__file__).parent / "page"
LOOK_EVERY = 0.5
"""Seconds between two looks at the file on disk."""


def application(desk: Desk) -> Starlette:
    """The desk as an application; wants a `Guard` around it."""

    @asynccontextmanager
    async def lifespan(_: Starlette) -> AsyncIterator[None]:
        async with anyio.create_task_group() as tasks:
            tasks.start_soon(_look_now_and_then, desk)
            yield
            tasks.cancel_scope.cancel()
            await anyio.to_thread.run_sync(desk.close)

    async def page(_: Request) -> Response:
        return Response((PAGE / "index.html").read_bytes(), media_type="text/html")

    async def whole(_: Request) -> Response:
        return JSONResponse(await anyio.to_thread.run_sync(desk.whole))

    async def events(_: Request) -> Response:
        return StreamingResponse(desk.channel.lines(), media_type="text/event-stream")

    routes = [
        Route("/", page),
        Route("/api/whole", whole),
        Route("/api/events", events),
        *range_view.routes(desk),
        *bench_view.routes(desk),
        *mend_view.routes(desk),
        *make_view.routes(desk),
        *propose_view.routes(desk),
        Mount("/page", StaticFiles(directory=PAGE)),
    ]
    return Starlette(routes=routes, lifespan=lifespan, exception_handlers=_HANDLERS)


async def _look_now_and_then(desk: Desk) -> None:
    while True:
        await anyio.sleep(LOOK_EVERY)
        await anyio.to_thread.run_sync(desk.look)


def _refused(status: int, words: Callable[[Exception], str]) -> Callable[..., Awaitable[Response]]:
    async def handler(_: Request, error: Exception) -> Response:
        return JSONResponse({"refused": words(error)}, status)

    return handler


async def _failed(_: Request, error: Exception) -> Response:
    traceback.print_exception(error)
    words = f"The fault is Railwright's own: {type(error).__name__}: {error}"
    return JSONResponse({"refused": words}, 500)


_HANDLERS = {
    FileError: _refused(422, str),
    EditError: _refused(422, str),
    CircuitError: _refused(422, str),
    Refused: _refused(422, str),
    NothingOpen: _refused(409, lambda _: "No design is open. Open one first."),
    ChangedOnDisk: _refused(
        409, lambda _: "The file was changed by somebody else meanwhile. Save over it, or reload."
    ),
    Outside: _refused(403, lambda e: f"{e} is not under the folder in which the desk was started."),
    TooLarge: _refused(413, lambda _: "The message is larger than any design needs."),
    Exception: _failed,
    OSError: _refused(507, lambda e: f"The file cannot be written: {e}."),
}
