"""Commands: each acts once, in the state it was meant for, or is refused and says why."""

from __future__ import annotations

import asyncio
import threading
from typing import Any

import pytest

from tests.http.kitchen import Kitchen
from weighd.domain.errors import JournalError

pytestmark = pytest.mark.anyio


def code(answer: Any) -> tuple[int, str]:
    return answer.status_code, answer.json()["code"]


async def test_the_same_key_starts_one_batch(kitchen: Kitchen) -> None:
    first = await kitchen.start(key="k")
    again = await kitchen.start(key="k")
    assert (first.status_code, again.status_code) == (201, 200)
    assert first.json()["batch"] == again.json()["batch"]
    assert kitchen.kinds() == ["batch opened"]


async def test_the_same_key_at_the_same_time_starts_one_batch(kitchen: Kitchen) -> None:
    answers = await asyncio.gather(*(kitchen.start(key="k") for _ in range(5)))
    assert sorted(one.status_code for one in answers) == [200, 200, 200, 200, 201]
    assert kitchen.kinds() == ["batch opened"]


async def test_a_start_is_answered_again_when_its_formula_is_gone(kitchen: Kitchen) -> None:
    await kitchen.start(key="k")
    kitchen.shelf.formulas.clear()
    again = await kitchen.start(key="k")
    assert (again.status_code, again.json()["batch"]) == (200, "kitchen-0001")
    assert code(await kitchen.start(key="other")) == (404, "unknown-formula")


async def test_the_same_key_accepts_once(kitchen: Kitchen) -> None:
    await kitchen.judged()
    answers = await asyncio.gather(*(kitchen.do("accept", key="k", addition=1) for _ in range(4)))
    assert [one.status_code for one in answers] == [200, 200, 200, 200]
    assert len({one.json()["entry"] for one in answers}) == 1
    assert kitchen.kinds().count("addition accepted") == 1


async def test_two_pages_press_accept_at_once_and_one_acts(kitchen: Kitchen) -> None:
    await kitchen.judged()
    answers = await asyncio.gather(
        kitchen.do("accept", key="left", addition=1, by="Ada"),
        kitchen.do("accept", key="right", addition=1, by="Bo"),
    )
    assert sorted(one.status_code for one in answers) == [200, 409]
    refused = next(one for one in answers if one.status_code == 409)
    assert refused.json()["code"] == "already-accepted"
    assert kitchen.kinds().count("addition accepted") == 1


async def test_a_key_stands_for_one_command(kitchen: Kitchen) -> None:
    await kitchen.ready()
    lot = await kitchen.do("name lot", key="k", addition=1, lot="L-1")
    assert lot.status_code == 200
    assert code(await kitchen.do("name lot", key="k", addition=1, lot="L-2")) == (422, "key-reused")
    assert code(await kitchen.do("abandon", key="k")) == (422, "key-reused")
    assert code(await kitchen.start(key="k")) == (422, "key-reused")
    assert kitchen.station.batch is not None
    assert kitchen.station.batch.lots == {1: "L-1"}


async def test_a_key_of_another_batch_is_found_out_after_a_restart(kitchen: Kitchen) -> None:
    await kitchen.start()
    await kitchen.do("abandon", key="k", reason="made up")
    await kitchen.start()
    kitchen.app.state.room.keys._seen.clear()
    refused = await kitchen.do("abandon", key="k", batch="kitchen-0002", reason="made up")
    assert code(refused) == (422, "key-reused")
    assert kitchen.station.batch is not None
    assert kitchen.station.batch.current is not None


async def test_a_refused_command_leaves_its_key_free(kitchen: Kitchen) -> None:
    await kitchen.start()
    assert code(await kitchen.do("tare", key="k")) == (409, "not-settled")
    await kitchen.show("0")
    assert code(await kitchen.do("tare", key="k")) == (409, "no-vessel")
    assert (await kitchen.do("tare", key="k", confirm=True)).status_code == 200


async def test_keys_come_in_the_header_or_the_body(kitchen: Kitchen) -> None:
    body = {"formula": "test-ice", "operator": "Ada"}
    assert code(await kitchen.client.post("/api/batches", json=body)) == (400, "no-key")
    differ = await kitchen.post("/api/batches", {**body, "key": "a"}, key="b")
    assert code(differ) == (400, "keys-differ")
    for bad in ("", "x" * 200, "é"):
        answer = await kitchen.client.post("/api/batches", json={**body, "key": bad})
        assert code(answer) == (400, "bad-key")
    assert kitchen.kinds() == []
    inside = await kitchen.client.post("/api/batches", json={**body, "key": "a"})
    assert inside.status_code == 201
    # A quoted string is how RFC 8941 writes the value; the key is what stands inside.
    quoted = await kitchen.post("/api/batches", body, key='"a"')
    assert quoted.status_code == 200
    both = await kitchen.post("/api/batches", {**body, "key": "a"}, key="a")
    assert both.status_code == 200


async def test_accepting_what_is_not_on_target_asks_for_a_reason(kitchen: Kitchen) -> None:
    await kitchen.ready()
    await kitchen.pour("250", "770")
    refused = await kitchen.do("accept", addition=1)
    assert code(refused) == (409, "needs-reason")
    assert refused.json()["remedy"]
    state = (await kitchen.get("/api/state")).json()["state"]
    assert state["live"]["held"]["cause"] == "over"
    accepted = await kitchen.do("accept", addition=1, reason="the guests like milk")
    assert accepted.status_code == 200


async def test_refusals_of_the_state(kitchen: Kitchen) -> None:
    assert code(await kitchen.do("tare")) == (409, "no-open-batch")
    await kitchen.start()
    assert code(await kitchen.start()) == (409, "batch-open")
    assert code(await kitchen.do("accept", addition=1)) == (409, "nothing-poured")
    assert code(await kitchen.do("accept", addition=2)) == (409, "not-current")
    assert code(await kitchen.do("top up")) == (409, "not-now")
    assert code(await kitchen.do("name lot", lot=" ")) == (422, "no-lot")
    assert code(await kitchen.do("dance")) == (422, "unknown-command")
    assert code(await kitchen.do("start")) == (422, "unknown-command")
    assert code(await kitchen.do("tare", batch="kitchen-0009")) == (409, "no-open-batch")
    assert code(await kitchen.do("tare", batch="no..such")) == (404, "unknown-batch")
    assert kitchen.kinds() == ["batch opened"]


async def test_refusals_of_a_start(kitchen: Kitchen) -> None:
    assert code(await kitchen.start(formula="nothing")) == (404, "unknown-formula")
    assert code(await kitchen.start(formula="../../etc/passwd")) == (404, "unknown-formula")
    assert code(await kitchen.start(operator="  ")) == (422, "no-operator")
    assert code(await kitchen.start(scale="moon")) == (422, "unknown-scale")
    assert kitchen.kinds() == []


@pytest.mark.parametrize(
    "size",
    [
        "NaN",
        "-5",
        "0",
        "0.0",
        "1e9",
        "1_000",
        "9" * 400,
        "∞",
        "２４００",
        "abc",
        " ",
        -1,
        0,
        1e12,
        2e-9,
    ],
)
async def test_sizes_that_are_none(kitchen: Kitchen, size: object) -> None:
    assert code(await kitchen.start(batch_g=size)) == (422, "bad-batch-size")
    if isinstance(size, str) and size.strip():
        answer = await kitchen.client.get("/api/formulas/test-ice", params={"batch_g": size})
        assert code(answer) == (422, "bad-batch-size")
    assert kitchen.kinds() == []


@pytest.mark.parametrize(
    ("size", "grams"), [("1244", "1244"), (1244, "1244"), (1244.0, "1244.0"), ("", "622")]
)
async def test_sizes_as_text_and_as_numbers(kitchen: Kitchen, size: object, grams: str) -> None:
    assert (await kitchen.start(batch_g=size)).status_code == 201
    shown = (await kitchen.get("/api/batches/kitchen-0001")).json()["batch"]
    assert shown["batch_g"] == grams


@pytest.mark.parametrize("literal", ["NaN", "Infinity", "-Infinity", "1e400", "-1e400", "9" * 5000])
async def test_numbers_that_json_does_not_know(kitchen: Kitchen, literal: str) -> None:
    body = f'{{"formula": "test-ice", "operator": "Ada", "batch_g": {literal}}}'
    answer = await kitchen.client.post(
        "/api/batches",
        content=body,
        headers={"Content-Type": "application/json", "Idempotency-Key": "k"},
    )
    assert code(answer) in {(422, "bad-batch-size"), (400, "bad-json")}
    assert kitchen.kinds() == []


async def test_a_store_that_fails_is_told_and_the_command_can_be_sent_again(
    kitchen: Kitchen,
) -> None:
    await kitchen.judged()
    kitchen.journal.fail = JournalError("store-io", "The disk failed.", remedy="Look at it.")
    refused = await kitchen.do("accept", key="k", addition=1)
    assert code(refused) == (503, "store-io")
    assert refused.json()["remedy"] == "Look at it."
    kitchen.journal.fail = None
    assert (await kitchen.do("accept", key="k", addition=1)).status_code == 200
    assert kitchen.kinds().count("addition accepted") == 1


async def test_a_station_that_has_stopped_says_so(kitchen: Kitchen) -> None:
    kitchen._running.cancel()
    await asyncio.gather(kitchen._running, return_exceptions=True)
    assert code(await kitchen.start(key="k")) == (503, "stopping")


async def test_a_station_that_does_not_answer(
    kitchen: Kitchen, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("weighd.http.routes_batches.ANSWER_S", 0.05)
    disk = threading.Event()
    monkeypatch.setattr(kitchen.journal, "append", lambda _entries: disk.wait(5))
    answer = await kitchen.start(key="k")
    disk.set()
    assert code(answer) == (503, "no-answer")
    assert "same key" in answer.json()["remedy"]
    # It may still act, so the key goes on standing for that command.
    assert code(await kitchen.start(key="k", operator="Bo")) == (422, "key-reused")
