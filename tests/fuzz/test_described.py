"""The OpenAPI description leaves no route out, and says of each what it answers."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

import pytest

from tests.http.kitchen import Kitchen
from tests.json_schemas import held_to
from weighd.http.answers import ANSWERS
from weighd.http.described import ALSO, OTHERWISE
from weighd.http.errors import OF_CODE
from weighd.http.rights import ROUTES

#: What the long run of schemathesis leaves out, as ``fuzz_http`` has it: each has a reason.
LEFT_OUT = {"POST /api/first/scale", "POST /api/first/learn"}


@pytest.fixture(scope="module")
def document() -> Mapping[str, Any]:
    told: Mapping[str, Any] = Kitchen().app.openapi()
    return told


def operations(document: Mapping[str, Any]) -> dict[str, Any]:
    return {
        f"{method.upper()} {path}": one
        for path, methods in document["paths"].items()
        for method, one in methods.items()
    }


def test_every_route_says_what_it_answers(document: Mapping[str, Any]) -> None:
    every = operations(document)
    assert {f"{method} {path}" for method, path in ROUTES} <= set(every)
    assert set(ANSWERS) <= set(every)
    assert set(OTHERWISE) <= set(every)
    assert set(ALSO) <= set(every)
    silent = set(every) - set(ANSWERS) - set(OTHERWISE) - {"GET /api/schema/record.json"}
    assert silent == set()


def test_a_refusal_is_a_problem_with_its_codes(document: Mapping[str, Any]) -> None:
    """RFC 9457 for the members; every status that a code has is told of somewhere."""
    for name, one in operations(document).items():
        for status, told in one["responses"].items():
            if int(status) >= 400:
                assert told == {"$ref": f"#/components/responses/Refused{status}"}, name
    statuses = {int(one.removeprefix("Refused")) for one in document["components"]["responses"]}
    assert {403, 404, 408, 409, 410, 412, 413, 415, 421, 422, 428, 429, 500, 503} <= statuses
    assert set(OF_CODE.values()) - statuses <= {405, 411, 426}
    held = document["components"]["responses"]["Refused412"]["content"]
    schema = {**held["application/problem+json"]["schema"], "components": document["components"]}
    checker = held_to(schema)
    told = {"type": "about:blank", "title": "x", "detail": "x", "remedy": "", "where": ""}
    assert checker.is_valid({**told, "status": 412, "code": "changed-since"})
    assert not checker.is_valid({**told, "status": 412, "code": "no-tag"})
    assert not checker.is_valid({**told, "status": 409, "code": "changed-since"})


def test_the_description_is_json_schema_throughout(document: Mapping[str, Any]) -> None:
    """Held to the meta-schema of draft 2020-12, which OpenAPI 3.1 takes."""
    assert document["openapi"].startswith("3.1")
    library = pytest.importorskip("jsonschema_rs")
    library.meta.validate({"$defs": {name: one.schema for name, one in ANSWERS.items()}})
    library.meta.validate({"$defs": document["components"]["schemas"]})
    assert len(json.dumps(document)) < 1_000_000


def test_what_is_left_out_of_fuzzing_is_there_and_has_a_reason(
    document: Mapping[str, Any],
) -> None:
    from tests.fuzz import fuzz_http

    assert set(fuzz_http.LEFT_OUT) == LEFT_OUT <= set(operations(document))
    assert all(len(why) > 20 for why in fuzz_http.LEFT_OUT.values())


@pytest.mark.anyio
async def test_an_address_tells_all_methods_that_it_takes() -> None:
    """RFC 9110, 15.5.6: of both routes that stand there, not of the first alone."""
    async with Kitchen() as kitchen:
        for path, methods in (("/api/batches", "GET, POST"), ("/api/state", "GET")):
            answer = await kitchen.client.request("PATCH", path)
            assert (answer.status_code, answer.headers["allow"]) == (405, methods)


@pytest.mark.anyio
async def test_a_number_of_an_entry_that_no_database_has_room_for_is_refused() -> None:
    """A database's whole numbers end at 2^63 - 1 (SQLite, *Datatypes*); it was answered 500."""
    async with Kitchen() as kitchen:
        for number in (0, -1, 2**53, 2**64):
            for path in (f"checks/{number}", f"scales/bench/checks?before={number}"):
                assert (await kitchen.get(f"/api/{path}")).status_code == 422
        assert (await kitchen.get(f"/api/checks/{2**53 - 1}")).status_code == 404


@pytest.fixture
def anyio_backend() -> str:
    return "asyncio"
