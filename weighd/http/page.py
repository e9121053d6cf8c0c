"""The page: built files served as they are, and a word on how to build them when they are not.

Every part of a path must be the name of something in the folder it is looked for in, so that no
spelling of a path leads out of it.

What the build packed beside a file (``NAME.br``, ``NAME.gz``) is sent in its place to whoever takes
it; the packed files have no addresses of their own.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Container
from importlib.resources.abc import Traversable
from pathlib import PurePosixPath

from anyio import to_thread
from starlette.requests import Request
from starlette.responses import HTMLResponse, Response
from starlette.routing import Route

from weighd.http.errors import problem

#: Types are ours: what the system thinks of ``.js`` differs from computer to computer.
_TYPES = {
    ".html": "text/html; charset=utf-8",
    ".js": "text/javascript; charset=utf-8",
    ".mjs": "text/javascript; charset=utf-8",
    ".css": "text/css; charset=utf-8",
    ".json": "application/json",
    ".map": "application/json",
    ".webmanifest": "application/manifest+json",
    ".txt": "text/plain; charset=utf-8",
    ".svg": "image/svg+xml",
    ".png": "image/png",
    ".ico": "image/x-icon",
    ".woff2": "font/woff2",
}
#: Content codings (RFC 9110, 8.4.1) by what a packed file's name ends with, the smallest first.
_PACKED = {".br": "br", ".gz": "gzip"}
_HASHED = re.compile(r"assets/[^/]+-[A-Za-z0-9_-]{8,}\.[a-z0-9]+")
_FOR_GOOD = "public, max-age=31536000, immutable"

_UNBUILT = """<!doctype html>
<html lang="en">
<meta charset="utf-8">
<title>Weighing station</title>
<h1>The page has not been built</h1>
<p>The station runs, but its page is not part of this installation. In the source folder:</p>
<pre>cd web
npm ci --ignore-scripts
npm run build</pre>
<p>then start the station again. Programs find the station at
<a href="/api/docs">/api/docs</a>.</p>
</html>
"""


class Page:
    """The built page in a folder, or ``None`` where there is none."""

    def __init__(self, dist: Traversable | None) -> None:
        self._dist = dist
        self._known: frozenset[str] | None = None

    def routes(self) -> list[Route]:
        """The addresses of the page; none of them covers ``/api``."""
        return [
            Route("/", self.answer, methods=["GET"]),
            Route("/{name}", self.answer, methods=["GET"]),
            Route("/assets/{rest:path}", self.answer, methods=["GET"]),
        ]

    def public(self, path: str) -> bool:
        """Whether an address is one of the page's own files: they are given to anybody."""
        name = path.removeprefix("/") or "index.html"
        if name.startswith("assets/"):
            return True
        return name in self._names() or path == "/"

    def _names(self) -> frozenset[str]:
        """What the folder holds beside what the build made."""
        if self._known is None:
            here = () if self._dist is None else self._dist.iterdir()
            self._known = frozenset(one.name for one in here if one.is_file())
        return self._known

    async def answer(self, request: Request) -> Response:
        """A file of the page."""
        path = request.url.path.removeprefix(request.scope.get("root_path", "")).removeprefix("/")
        takes = taken(request.headers.get("accept-encoding", ""))
        data, coding = await to_thread.run_sync(self.smallest, path or "index.html", takes)
        if data is None:
            if not path:
                return HTMLResponse(_UNBUILT, 200, {"Cache-Control": "no-store"})
            return problem(404, "not-found", "There is nothing at this address.")
        tag = f'"{hashlib.sha256(data).hexdigest()[:32]}"'
        headers = {
            "Cache-Control": _FOR_GOOD if _HASHED.fullmatch(path) else "no-cache",
            "ETag": tag,  # of the bytes that are sent, so each packing has one of its own
            "Vary": "Accept-Encoding",
        }
        if coding:
            headers["Content-Encoding"] = coding
        if tag in re.split(r"\s*,\s*", request.headers.get("if-none-match", "")):
            return Response(status_code=304, headers=headers)
        kind = _TYPES.get(PurePosixPath(path or "index.html").suffix, "application/octet-stream")
        response = Response(data, headers=headers)
        response.headers["Content-Type"] = kind
        return response

    def smallest(self, path: str, takes: Container[str]) -> tuple[bytes | None, str]:
        """The bytes of a file as they are sent, and their coding; none where it is as it is."""
        if PurePosixPath(path).suffix in _PACKED:
            return None, ""
        for ending, coding in _PACKED.items():
            if coding in takes and (data := self.read(path + ending)) is not None:
                return data, coding
        return self.read(path), ""

    def read(self, path: str) -> bytes | None:
        """The bytes of a file, or ``None`` where there is none of that name."""
        here = self._dist
        for part in path.split("/"):
            if here is None or not here.is_dir():
                return None
            here = next((one for one in here.iterdir() if one.name == part), None)
        return here.read_bytes() if here is not None and here.is_file() else None


def taken(accepts: str) -> set[str]:
    """What an Accept-Encoding names and does not refuse by ``q=0`` (RFC 9110, 12.5.3)."""
    out = set()
    for one in accepts.lower().split(","):
        coding, _, q = one.partition(";")
        if not re.fullmatch(r"\s*q\s*=\s*0(\.0*)?\s*", q):
            out.add(coding.strip())
    return out
