"""Requests that are not let in, or not understood: each a problem (RFC 9457), none a crash."""

from __future__ import annotations

import logging
from collections.abc import AsyncIterator
from typing import Any

import pytest

from tests.http.kitchen import HOST, Kitchen, Socket
from weighd.http.access import Access
from weighd.http.ports import HttpSettings

pytestmark = pytest.mark.anyio

BODY = {"formula": "test-ice", "operator": "Ada"}


def is_problem(answer: Any, status: int, code: str) -> None:
    """RFC 9457, 3.1 and 4.2.1: its members, and ``about:blank`` with the status phrase."""
    assert answer.status_code == status
    assert answer.headers["content-type"] == "application/problem+json"
    body = answer.json()
    assert {"type", "title", "status", "detail", "code", "remedy", "where"} <= set(body)
    assert (body["type"], body["status"], body["code"]) == ("about:blank", status, code)
    assert body["title"]
    assert body["detail"].endswith(".")
    assert "Traceback" not in answer.text
    # Refusals are defended like everything else.
    assert "default-src 'self'" in answer.headers["content-security-policy"]
    assert answer.headers["x-content-type-options"] == "nosniff"


HOSTS = [
    ("localhost", True),
    ("localhost:8451", True),
    ("LOCALHOST", True),
    ("localhost.", True),
    ("127.0.0.1:1", True),
    ("[::1]:8451", True),
    ("127.0.0.7:8451", True),  # where it was told to listen
    ("bench.example", False),
    ("evil.example", False),
    ("localhost.evil.example", False),
    ("127.0.0.1.evil.example", False),
    ("localhost:8451@evil.example", False),
    ("localhost:port", False),
    ("localhost/", False),
    ("localhost:", False),
    ("0.0.0.0", False),
    ("", False),
]


@pytest.mark.parametrize(("host", "known"), HOSTS)
async def test_only_our_own_names_are_answered(host: str, known: bool) -> None:
    async with Kitchen(settings=HttpSettings("127.0.0.7")) as kitchen:
        answer = await kitchen.get("/api/health", Host=host)
        if known:
            assert answer.status_code == 200
        else:
            is_problem(answer, 421, "unknown-host")
        async with Socket(kitchen.app, host=host) as socket:
            assert socket.accepted is known
            assert known or socket.closed == 1008


ORIGINS = [
    (HOST, f"http://{HOST}", True),
    (HOST, "http://127.0.0.1:3000", False),
    (HOST, "http://localhost:8451", False),
    (HOST, "http://evil.example", False),
    (HOST, f"http://{HOST}.evil.example", False),
    (HOST, f"http://evil.example@{HOST}", False),
    (HOST, "null", False),
    (HOST, "", False),
    (HOST, f"file://{HOST}", False),
    (HOST, f"http://{HOST}/", False),
    (HOST, "http://[", False),
    ("localhost", "http://localhost", True),
    ("localhost", "http://localhost:80", True),
    # A proxy that names the station as it listens leads to the wrong door.
    (HOST, "https://bench.example", False),
]


@pytest.mark.parametrize(("host", "origin", "own"), ORIGINS)
async def test_only_our_own_page_may_ask(host: str, origin: str, own: bool) -> None:
    async with Kitchen() as kitchen:
        answer = await kitchen.post("/api/batches", BODY, Host=host, Origin=origin)
        if own:
            assert answer.status_code == 201
        else:
            is_problem(answer, 403, "foreign-origin")
            assert kitchen.kinds() == []
            is_problem(
                await kitchen.get("/api/state", Host=host, Origin=origin), 403, "foreign-origin"
            )
        async with Socket(kitchen.app, host=host, origin=origin) as socket:
            assert socket.accepted is own
            assert own or (socket.closed == 1008 and socket.texts == [])


@pytest.mark.parametrize("site", ["cross-site", "same-site"])
async def test_a_page_from_elsewhere_changes_nothing(kitchen: Kitchen, site: str) -> None:
    fetch = {"Sec-Fetch-Site": site}
    is_problem(await kitchen.post("/api/batches", BODY, **fetch), 403, "foreign-origin")
    # A link on another page may lead here; nothing else of it may, though it could not read it.
    led = {**fetch, "Sec-Fetch-Mode": "navigate", "Sec-Fetch-Dest": "document"}
    assert (await kitchen.get("/", **led)).status_code == 200
    for mode, dest in (("no-cors", "image"), ("cors", "empty"), ("navigate", "iframe")):
        asked = {**fetch, "Sec-Fetch-Mode": mode, "Sec-Fetch-Dest": dest}
        answer = await kitchen.get("/api/schema/record.json", **asked)
        is_problem(answer, 403, "foreign-origin")
    is_problem(await kitchen.post("/api/batches", BODY, **led), 403, "foreign-origin")
    assert (
        await kitchen.post("/api/batches", BODY, **{"Sec-Fetch-Site": "same-origin"})
    ).is_success


async def test_headers_sent_twice_are_not_chosen_from(kitchen: Kitchen) -> None:
    for twice, code in (
        ([("Host", HOST), ("Host", "evil.example")], "unknown-host"),
        ([("Host", HOST), ("Origin", f"http://{HOST}"), ("Origin", "null")], "foreign-origin"),
    ):
        answer = await kitchen.client.get("/api/health", headers=twice)
        assert answer.json()["code"] == code


def test_an_allowed_host_must_be_a_host() -> None:
    for bad in ("http://x", "", "a b", "*"):
        with pytest.raises(ValueError, match="not a host name"):
            Access([bad])


async def test_there_is_no_permission_for_other_origins(kitchen: Kitchen) -> None:
    answer = await kitchen.client.request(
        "OPTIONS", "/api/batches", headers={"Origin": f"http://{HOST}"}
    )
    is_problem(answer, 405, "method-not-allowed")
    assert not [name for name in answer.headers if name.startswith("access-control")]


@pytest.mark.parametrize("kind", ["text/plain", "application/x-www-form-urlencoded", None])
async def test_a_form_is_not_taken_for_a_command(kitchen: Kitchen, kind: str | None) -> None:
    headers = {"Idempotency-Key": "k"} | ({"Content-Type": kind} if kind else {})
    answer = await kitchen.client.post(
        "/api/batches", content=b'{"formula": "test-ice", "operator": "Ada"}', headers=headers
    )
    is_problem(answer, 415, "not-json")
    assert kitchen.kinds() == []


async def test_a_body_that_is_too_large(kitchen: Kitchen) -> None:
    headers = {"Content-Type": "application/json", "Idempotency-Key": "k"}

    async def pieces() -> AsyncIterator[bytes]:
        for _ in range(70):
            yield b" " * 1024

    large = b" " * 70_000
    for content in (large, pieces()):
        answer = await kitchen.client.post("/api/batches", content=content, headers=headers)
        is_problem(answer, 413, "body-too-large")
        assert answer.headers["connection"] == "close"
    for length in ("-1", "1e3", "9" * 30):
        lying = await kitchen.client.post(
            "/api/batches", content=b"{}", headers={**headers, "Content-Length": length}
        )
        is_problem(lying, 413, "body-too-large")


async def test_a_body_that_never_ends(kitchen: Kitchen, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("weighd.http.gate.BODY_S", 0.05)

    async def slowly() -> AsyncIterator[bytes]:
        import asyncio

        yield b"{"
        await asyncio.sleep(1)
        yield b"}"

    answer = await kitchen.client.post(
        "/api/batches", content=slowly(), headers={"Content-Type": "application/json"}
    )
    is_problem(answer, 408, "slow-body")


@pytest.mark.parametrize("body", [b"{", b"[" * 60_000, b'{"a":' * 9000, b"\xff\xfe", b"nul"])
async def test_what_is_not_json(kitchen: Kitchen, body: bytes) -> None:
    headers = {"Content-Type": "application/json", "Idempotency-Key": "k"}
    answer = await kitchen.client.post("/api/batches", content=body, headers=headers)
    is_problem(answer, 400, "bad-json")


WRONG = [
    ({}, "body.formula"),
    ([], "body"),
    ("text", "body"),
    (None, "body"),
    ({**BODY, "formula": 7}, "body.formula"),
    ({**BODY, "operator": None}, "body.operator"),
    ({**BODY, "operator": ["Ada"]}, "body.operator"),
    ({**BODY, "operator": "A" * 81}, "body.operator"),
    ({**BODY, "operator": "Ada\u0000"}, "body.operator"),
    ({**BODY, "operator": "Ada\nBo"}, "body.operator"),
    ({**BODY, "operator": "\u202eadA"}, "body.operator"),
    ({**BODY, "batch_g": True}, "body.batch_g"),
    ({**BODY, "batch_g": {}}, "body.batch_g"),
    ({**BODY, "extra": 1}, "body.extra"),
]


@pytest.mark.parametrize(("body", "where"), WRONG)
async def test_bodies_of_the_wrong_shape(kitchen: Kitchen, body: Any, where: str) -> None:
    answer = await kitchen.post("/api/batches", body)
    is_problem(answer, 422, "invalid-request")
    assert answer.json()["where"].startswith(where)
    assert answer.json()["errors"][0]["message"] == answer.json()["detail"]
    assert kitchen.kinds() == []


async def test_half_a_character_does_not_reach_the_record(kitchen: Kitchen) -> None:
    """RFC 8785 cannot write it down (RFC 7493, 2.1), so the station must never hear of it."""
    await kitchen.start()
    headers = {"Content-Type": "application/json", "Idempotency-Key": "k"}
    for field in ("lot", "reason", "by", "do"):
        body = b'{"do": "name lot", "%s": "\\ud800"}' % field.encode()
        if field == "do":
            body = b'{"do": "\\udfff"}'
        answer = await kitchen.client.post(
            "/api/batches/kitchen-0001/commands", content=body, headers=headers
        )
        is_problem(answer, 422, "invalid-request")
    for bad in (b'{"formula": "\\ud800", "operator": "A"}',):
        answer = await kitchen.client.post("/api/batches", content=bad, headers=headers)
        assert answer.status_code in (404, 422)
    assert (await kitchen.do("name lot", lot="L-1")).status_code == 200


@pytest.mark.parametrize("addition", ["1", 0, -1, 1.5, True, 10**30, []])
async def test_additions_that_are_no_number(kitchen: Kitchen, addition: object) -> None:
    await kitchen.start()
    answer = await kitchen.do("tare", addition=addition)
    is_problem(answer, 422, "invalid-request")
    assert answer.json()["where"].startswith("body.addition")


@pytest.mark.parametrize(
    ("method", "path", "status", "code"),
    [
        ("GET", "/nothing", 404, "not-found"),
        ("GET", "/api", 404, "not-found"),
        ("GET", "/api/", 404, "not-found"),
        ("GET", "/api/nothing", 404, "not-found"),
        ("POST", "/api/nothing", 404, "not-found"),
        ("GET", "/api/state/", 404, "not-found"),
        ("GET", "/api/formulas/nothing", 404, "unknown-formula"),
        ("GET", "/api/formulas/NOTHING", 404, "unknown-formula"),
        ("GET", "/api/formulas/test-ice?scale=moon", 422, "unknown-scale"),
        ("DELETE", "/api/batches", 405, "method-not-allowed"),
        ("GET", "/api/notices/n1/dismiss", 405, "method-not-allowed"),
        ("POST", "/", 405, "method-not-allowed"),
        ("TRACE", "/api/state", 405, "method-not-allowed"),
    ],
)
async def test_addresses_and_methods_that_are_not_there(
    kitchen: Kitchen, method: str, path: str, status: int, code: str
) -> None:
    answer = await kitchen.client.request(method, path)
    is_problem(answer, status, code)
    if status == 405:
        assert answer.headers["allow"]


async def test_a_defect_is_logged_and_not_shown(
    kitchen: Kitchen, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    def broken() -> None:
        raise ZeroDivisionError("the secret of the kitchen")

    monkeypatch.setattr(kitchen.shelf, "all", broken)
    with caplog.at_level(logging.ERROR, logger="weighd.http"):
        answer = await kitchen.get("/api/formulas")
    is_problem(answer, 500, "internal")
    assert "secret" not in answer.text
    assert "the secret of the kitchen" in caplog.text
    assert (await kitchen.get("/api/health")).status_code == 200


async def test_what_the_api_says_is_not_kept_by_browsers(kitchen: Kitchen) -> None:
    for path in ("/api/state", "/api/nothing", "/metrics", "/api/docs"):
        assert (await kitchen.get(path)).headers["cache-control"] == "no-store"
    headers = (await kitchen.get("/")).headers
    assert "frame-ancestors 'none'" in headers["content-security-policy"]
    assert "unsafe" not in headers["content-security-policy"]
    assert headers["referrer-policy"] == "no-referrer"
