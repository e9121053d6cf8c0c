"""Corrections over REST: listed, made once, refused in words."""

from __future__ import annotations

from typing import Any

import pytest

from tests.http.kitchen import Kitchen

pytestmark = pytest.mark.anyio
BATCH = "/api/batches/kitchen-0001"


async def weighed(kitchen: Kitchen) -> int:
    """A batch with its first addition in; the number of that entry."""
    await kitchen.ready()
    first = (await kitchen.get(BATCH)).json()["batch"]["additions"][0]
    await kitchen.pour("250", str(250 + float(first["target_g"])))
    assert (await kitchen.do("accept")).status_code == 200
    written = (await kitchen.get(f"{BATCH}/corrections")).json()["written"]
    return next(int(one["entry"]) for one in written if one["kind"] == "addition accepted")


def asked(entry_: Any, **more: Any) -> dict[str, Any]:
    return {
        "do": "correct",
        "entry": entry_,
        "field": "lot",
        "old": "",
        "new": "L-9",
        "reason": "the label was wet",
        "by": "Bo",
        **more,
    }


async def test_a_correction_is_made_once_and_shown(kitchen: Kitchen) -> None:
    entry = await weighed(kitchen)
    first = await kitchen.post(f"{BATCH}/commands", asked(entry), key="once")
    again = await kitchen.post(f"{BATCH}/commands", asked(entry), key="once")
    assert (first.status_code, again.status_code) == (200, 200)
    assert first.json()["entry"] == again.json()["entry"]
    assert kitchen.kinds().count("corrected") == 1
    told = (await kitchen.get(f"{BATCH}/corrections")).json()
    [one] = told["corrections"]
    assert (one["entry"], one["field"], one["old"], one["new"]) == (entry, "lot", "", "L-9")
    assert (one["by"], one["reason"]) == ("Bo", "the label was wet")
    assert next(it for it in told["written"] if it["entry"] == entry)["fields"]["lot"] == "L-9"
    shown = (await kitchen.get(BATCH)).json()["batch"]["additions"][0]
    assert shown["lot"] == "L-9"
    # Two people at once: the second saw what does not stand any more.
    second = await kitchen.post(f"{BATCH}/commands", asked(entry, new="L-8"))
    assert (second.status_code, second.json()["code"]) == (409, "changed-meanwhile")
    assert 'Meanwhile the lot is "L-9".' in second.json()["detail"]


@pytest.mark.parametrize(
    ("wrong", "status", "code"),
    [
        ({"entry": 9999}, 404, "unknown-entry"),
        ({"field": "net_g"}, 422, "not-correctable"),
        ({"field": None}, 422, "not-correctable"),
        ({"old": None}, 422, "needs-old"),
        ({"new": ""}, 409, "nothing-changed"),
        ({"reason": None}, 409, "needs-reason"),
        ({"new": "x" * 200}, 422, "bad-correction"),
        ({"entry": "3"}, 422, "invalid-request"),
        ({"entry": 0}, 422, "invalid-request"),
        ({"new": 7}, 422, "invalid-request"),
        ({"new": "a\u202eb"}, 422, "invalid-request"),
    ],
)
async def test_what_cannot_be_is_refused(
    kitchen: Kitchen, wrong: dict[str, Any], status: int, code: str
) -> None:
    entry = await weighed(kitchen)
    answer = await kitchen.post(f"{BATCH}/commands", asked(entry, **wrong))
    assert (answer.status_code, answer.json()["code"]) == (status, code)
    assert "corrected" not in kitchen.kinds()


async def test_of_no_batch_there_is_nothing(kitchen: Kitchen) -> None:
    answer = await kitchen.get("/api/batches/kitchen-0099/corrections")
    assert (answer.status_code, answer.json()["code"]) == (404, "unknown-batch")
