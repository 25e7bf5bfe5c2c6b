"""Make: the documents of the newest proof, to look at and to take away."""

from __future__ import annotations

import mimetypes
from collections.abc import Mapping
from threading import Lock
from typing import Any

import anyio
from starlette.requests import Request
from starlette.responses import PlainTextResponse, Response
from starlette.routing import Route

from railwright.desk.answers import Refused, answering
from railwright.desk.desk import Desk
from railwright.desk.shown import Data
from railwright.make.written import Made, documents
from railwright.prove.proof import Proof


def routes(desk: Desk) -> list[Route]:
    """All that may be asked here."""
    making = _Making(desk)
    return [
        Route("/api/papers", answering(making.whole)),
        Route("/papers/{name}", making.paper),
    ]


class _Making:
    def __init__(self, desk: Desk) -> None:
        self.desk = desk
        self._turn = Lock()
        self._known: tuple[Proof, Made] | None = None

    def whole(self, _: Mapping[str, Any]) -> Data:
        """Names of the files, and of documents that could not be made."""
        made = self._made()
        return {
            "files": [{"name": name, "bytes": len(data)} for name, data in made.files.items()],
            "unmade": dict(made.unmade),
        }

    async def paper(self, request: Request) -> Response:
        """One file of the documents that were made last."""
        name = request.path_params["name"]
        known = await anyio.to_thread.run_sync(lambda: self._known)
        if known is None or name not in known[1].files:
            return PlainTextResponse("There is no such paper; make them first.\n", 404)
        kind = mimetypes.guess_type(name)[0] or "application/octet-stream"
        return Response(known[1].files[name], media_type=kind)

    def _made(self) -> Made:
        state = self.desk.opened.state()
        proved = self.desk.proved
        if proved is None or proved[0].design is not state.design:
            raise Refused("The documents are made from the proof, which is not done yet.")
        with self._turn:
            if self._known is None or self._known[0] is not proved[1]:
                self._known = proved[1], documents(state.design, proved[1])
            return self._known[1]
