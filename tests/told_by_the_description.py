"""Every answer that a test of the network edge gets is held to the OpenAPI description.

That tells of every status, media type and member: whoever adds one to an answer describes it in
``weighd/http/answers``. Held to a JSON Schema library, ``jsonschema_rs``, that schemathesis has.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from typing import Any

import httpx
from fastapi import FastAPI

try:
    import jsonschema_rs
except ImportError:  # installed with the tests; a station can be worked on without
    jsonschema_rs = None


class Described:
    """The description, as one application tells it: they all tell the same."""

    def __init__(self, app: FastAPI) -> None:
        self.document = app.openapi()
        self._routes = []
        for path in sorted(self.document["paths"], key=lambda one: (one.count("{"), one)):
            rest = "(.+)" if path.startswith("/api/trace/") else "([^/]+)"
            way = rest.join(map(re.escape, re.split(r"\{\w+\}", path)))
            self._routes.append((re.compile(way), path))
        self._checkers: dict[tuple[str, str, int, str], Any] = {}

    def faults(self, answer: httpx.Response) -> list[str]:
        """What of an answer is not as it is described."""
        request = answer.request
        path = next((it for way, it in self._routes if way.fullmatch(request.url.path)), None)
        if path is None or request.method.lower() not in self.document["paths"][path]:
            return []  # 404 and 405 of the application itself
        kind = answer.headers.get("content-type", "").partition(";")[0]
        key = (path, request.method.lower(), answer.status_code, kind)
        if key not in self._checkers:
            self._checkers[key] = self._checker(*key)
        checker = self._checkers[key]
        if checker is None or isinstance(checker, str):
            return [checker] if checker else []
        return [
            f"{request.method} {path} {answer.status_code}: {error.message[:300]} at "
            f"{'/'.join(map(str, error.instance_path))}"
            for error in checker.iter_errors(answer.json())
        ]

    def _checker(self, path: str, method: str, status: int, kind: str) -> Any:
        """What an answer of a kind is held to; a sentence where there must be none."""
        document = self.document
        told = document["paths"][path][method]["responses"].get(str(status))
        if told is None:
            return f"{method} {path} answered {status}, which is not described"
        if "$ref" in told:
            told = document["components"]["responses"][told["$ref"].rpartition("/")[2]]
        content = told.get("content", {})
        if kind not in content:
            return f"{method} {path} answered {status} as {kind}, described is {list(content)}"
        if not kind.endswith("json"):
            return None
        schema = {**content[kind]["schema"], "components": document["components"]}
        return jsonschema_rs.validator_for(schema)


#: Made of the first application that is asked.
_DESCRIBED: list[Described] = []


def hold(app: FastAPI) -> Mapping[str, list[Callable[..., Any]]]:
    """Event hooks for a client of the application."""

    async def held(answer: httpx.Response) -> None:
        if jsonschema_rs is None or not answer.request.url.path.startswith("/api/"):
            return
        await answer.aread()
        if not _DESCRIBED:
            _DESCRIBED.append(Described(app))
        wrong = _DESCRIBED[0].faults(answer)
        assert not wrong, "\n".join(wrong)

    return {"response": [held]}
