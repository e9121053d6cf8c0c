"""The OpenAPI description of the application: what FastAPI knows, and what answers look like.

1. Answers of success are described in ``answers``, and not by models that they would go through:
   they are made by the code that draws them for everybody, and stay as that made them.
2. Refusals are problem details (RFC 9457). Which statuses a route may answer follows from what it
   takes (``_statuses``) and from :data:`ALSO`; what each code means stands in ``errors``.
3. The tests hold every answer that they get to this, and schemathesis asks for more of them.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from http import HTTPStatus
from typing import Any

from fastapi import FastAPI
from fastapi.openapi.utils import get_openapi

from weighd.http.answers import ANSWERS
from weighd.http.answers.notation import TEXT, WHOLE, Schema, many, maybe, thing
from weighd.http.errors import OF_CLASS, OF_CODE

_METHODS = ("get", "put", "post", "delete")
_PROBLEM = "application/problem+json"
#: Of any route: a device that was not let in, a page from elsewhere, a name we are not known by,
#: too many requests of a stranger, a defect, a store that fails.
EVERYWHERE = (401, 403, 421, 429, 500, 503)
#: Of what takes a body.
_WITH_BODY = (400, 408, 413, 415, 422)
#: Of what somebody does under a name: that may be needed to be signed in for it (403 says so), and
#: another name than the one that is signed in is a conflict.
_ACTS = (409,)
#: What else routes may answer, that does not follow from what they take.
ALSO: Mapping[str, tuple[int, ...]] = {
    "GET /api/floor": (404,),
    "GET /api/simulation": (404,),
    "POST /api/simulation": (404,),
    "GET /api/first/formulas": (404,),
    "POST /api/first/list": (404,),
    "POST /api/first/look": (404,),
    "POST /api/first/learn": (404,),
    "POST /api/first/scale": (404,),
    "POST /api/first/name": (404,),
    "POST /api/first/formula": (404,),
    "GET /api/ingredients": (404,),
    "GET /api/limits": (404,),
    "GET /api/steps": (404,),
    "POST /api/steps": (404,),
    "POST /api/compose": (404,),
    "POST /api/paste": (404,),
    "POST /api/solve": (404,),
    "POST /api/swap": (404,),
    "POST /api/ingredient-import": (404,),
    "POST /api/ingredient-import/look": (404,),
    "POST /api/batches": (404,),
    "POST /api/lots": (404,),
    "POST /api/vessels": (404,),
    "GET /api/batches": (404,),
    "POST /api/sign-in": (404,),
    "POST /api/allow": (404,),
    "POST /api/devices": (404,),
    "POST /api/people": (404,),
}
_PROBLEM_SHAPE = thing(
    type=TEXT,
    title=TEXT,
    status=WHOLE,
    detail=TEXT.said("What happened, in a sentence."),
    code=TEXT.said("What programs match on."),
    remedy=TEXT.said("What to do next; may be empty."),
    where=TEXT.said("The field, file, line or scale concerned; may be empty."),
    errors=maybe(
        many(thing(where=TEXT, message=TEXT)).said("All that is wrong, where it is more.")
    ),
    wait_s=maybe(WHOLE.said("Of wait-for-pin and wait-for-code: seconds to wait.")),
    right=maybe(TEXT.said("Of needs-right: which.")),
    who_may=maybe(many(TEXT).said("Of needs-right: who has it.")),
)
#: Answers of success that are no JSON, by their media types.
OTHERWISE: Mapping[str, tuple[str, ...]] = {
    "GET /metrics": ("text/plain",),
    "GET /api/batches/{batch}/sheet.pdf": ("application/pdf",),
    "GET /api/batches/{batch}/weighings.csv": ("text/csv",),
    "GET /api/batches/{batch}/labels": ("application/pdf",),
    "GET /api/lots/{lot}/labels": ("application/pdf",),
    "GET /api/trace/{lot}": ("application/pdf", "text/csv"),
}
#: JSON under a media type of its own.
_SCHEMA = "GET /api/schema/record.json"
#: Done before under the same key: 200, with the answer that 201 gave then.
_AGAIN = frozenset(
    {
        "POST /api/batches",
        "POST /api/lots",
        "POST /api/batches/{batch}/yield",
        "POST /api/formulas/{formula}/publish",
    }
)


def described(app: FastAPI) -> dict[str, Any]:
    """The description of an application; made once."""
    if app.openapi_schema is None:
        document = get_openapi(
            title=app.title,
            version=app.version,
            description=app.description,
            routes=app.routes,
            openapi_version=app.openapi_version,
        )
        schemas = document.setdefault("components", {}).setdefault("schemas", {})
        for name in ("HTTPValidationError", "ValidationError", "Started", "Done"):
            schemas.pop(name, None)
        schemas["Problem"] = _PROBLEM_SHAPE.schema
        document["components"]["responses"] = {
            f"Refused{status}": refusal(status) for status in sorted(_every_status())
        }
        for path, methods in document["paths"].items():
            for method in _METHODS:
                if method in methods:
                    _describe(f"{method.upper()} {path}", methods[method])
        app.openapi_schema = document
    return app.openapi_schema


def _describe(route: str, operation: dict[str, Any]) -> None:
    usual = "201" if "201" in operation["responses"] else "200"
    done: dict[str, Any] = {"description": "Done.", "content": {}}
    if route == _SCHEMA:
        done["content"] = {"application/schema+json": {"schema": {"type": "object"}}}
    elif route in ANSWERS:
        done["content"] = {"application/json": {"schema": ANSWERS[route].schema}}
    for kind in OTHERWISE.get(route, ()):
        done["content"][kind] = {"schema": {"type": "string"}}
    responses: dict[str, Any] = {usual: done}
    if route in _AGAIN:
        responses["200"] = {**done, "description": "It was done before, under the same key."}
        responses["201"] = done
    for status in _statuses(route, operation):
        responses[str(status)] = {"$ref": f"#/components/responses/Refused{status}"}
    operation["responses"] = dict(sorted(responses.items()))


def _statuses(route: str, operation: Mapping[str, Any]) -> Iterator[int]:
    """The statuses that a route may refuse with."""
    method, path = route.split(" ", 1)
    parameters = operation.get("parameters", ())
    yield from EVERYWHERE
    if method != "GET":
        yield from (*_WITH_BODY, *_ACTS)
    elif parameters:
        yield 422
    names = {one["name"].lower() for one in parameters}
    if any(one["in"] == "path" for one in parameters):
        yield from (404, 409)
    if "{batch}" in path:
        yield 410
    if "if-match" in names:
        yield from (404, 412, 428)
    yield from ALSO.get(route, ())


def _every_status() -> set[int]:
    """Those that a route may refuse with, of all routes."""
    more = {one for each in ALSO.values() for one in each}
    return {*EVERYWHERE, *_WITH_BODY, *_ACTS, 404, 410, 412, 428, *more}


def refusal(status: int) -> Schema:
    """The answer that a refusal with this status is.

    Where its codes are all known here they are listed; a driver or a store has some of its own
    among those of a class of errors.
    """
    codes = sorted(code for code, of in OF_CODE.items() if of == status)
    shape: Schema = {"properties": {"status": {"const": status}}}
    if status not in OF_CLASS.values():
        shape["properties"]["code"] = {"enum": codes}
    phrase = HTTPStatus(status).phrase
    told: Schema = {
        "description": f"{phrase}: {', '.join(codes)}.",
        "content": {
            _PROBLEM: {"schema": {"allOf": [{"$ref": "#/components/schemas/Problem"}, shape]}}
        },
    }
    if status == 429:
        told["headers"] = {
            "Retry-After": {"description": "Seconds to wait.", "schema": {"type": "string"}}
        }
    return told
