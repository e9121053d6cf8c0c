"""Steps over HTTP: asked for, refused in words, shown, kept over a restart."""

from __future__ import annotations

from typing import Any

import pytest

from tests.domain.process_world import formula
from tests.http.kitchen import Kitchen, Socket
from tests.http.test_commands import code
from weighd.domain.process import limits_in_words
from weighd.domain.verify import verify_export

pytestmark = pytest.mark.anyio

STEPS = """
[[steps]]
kind = "heat-treat"
table = "us-frozen-dessert-mix"
cautions = [{ name = "hot", text = "It is hot." }]
[[steps]]
kind = "cool"
temperature = "at most 4 °C"
"""


async def weighed(kitchen: Kitchen) -> None:
    """The only addition accepted: the batch is in process."""
    kitchen.shelf.formulas["test-ice"] = formula(STEPS)
    await kitchen.judged()
    assert (await kitchen.do("accept", addition=1)).status_code == 200
    assert kitchen.kinds()[-1] == "all weighed"


async def one(kitchen: Kitchen) -> dict[str, Any]:
    state = (await kitchen.get("/api/state")).json()["state"]
    (batch,) = state["process"]["batches"]
    return dict(batch)


async def test_a_batch_is_taken_through_its_steps(kitchen: Kitchen) -> None:
    await weighed(kitchen)
    batch = await one(kitchen)
    assert batch["id"] == "kitchen-0001"
    assert batch["steps"][0]["limits"] == limits_in_words(formula(STEPS).steps[0])
    asked = [
        ({"do": "begin step", "step": 1, "by": "Bo", "confirmed": ["hot"]}, 0),
        ({"do": "enter temperature", "step": 1, "temperature": 69.5}, 900),
        ({"do": "enter temperature", "step": 1, "temperature": "156 F", "ago": "1 min"}, 1860),
        ({"do": "note step", "step": 1, "note": "a skin formed"}, 0),
        ({"do": "end step", "step": 1}, 0),
        ({"do": "begin step", "step": 2}, 0),
        ({"do": "enter temperature", "step": 2, "temperature": "4"}, 600),
        ({"do": "end step", "step": 2}, 0),
    ]
    for body, seconds in asked:
        kitchen.clock.t += seconds
        answer = await kitchen.do(**body)
        assert answer.status_code == 200, answer.text
    assert kitchen.kinds()[-2:] == ["step ended", "batch closed"]
    drawn = (await kitchen.get("/api/batches/kitchen-0001")).json()["batch"]
    assert drawn["status"] == "closed"
    assert [it["status"] for it in drawn["steps"]] == ["done", "done"]
    run = drawn["steps"][0]["runs"][0]
    assert (run["by"], run["confirmed"], run["reached"]) == ("Bo", ["hot"], "155 °F, 30 min")
    assert [it["temperature"] for it in run["values"]] == ["69.5 °C", "156 °F"]
    assert [it["entered"] for it in run["values"]] == [False, True]
    record = (await kitchen.get("/api/batches/kitchen-0001/record")).json()
    assert verify_export(record, None).entries == len(record["entries"])
    rows = (await kitchen.get("/api/batches")).json()["batches"]
    assert rows[0]["status"] == "closed"


@pytest.mark.parametrize(
    ("body", "expected"),
    [
        ({"do": "begin step", "step": 1, "by": "Bo"}, (409, "cautions-not-confirmed")),
        ({"do": "begin step", "step": 1, "by": "Bo", "confirmed": ["x"]}, (422, "unknown-caution")),
        ({"do": "begin step", "step": 1, "confirmed": ["hot"]}, (422, "no-operator")),
        ({"do": "begin step", "step": 2}, (409, "not-this-step")),
        ({"do": "begin step", "by": "Bo", "confirmed": ["hot"]}, (422, "no-step")),
        ({"do": "end step", "step": 1}, (409, "not-now")),
        ({"do": "enter temperature", "step": 1, "temperature": 20}, (409, "not-now")),
        ({"do": "close batch", "reason": "enough"}, (409, "heat-treatment-open")),
        ({"do": "accept step", "step": 1, "reason": "x"}, (409, "not-now")),
        ({"do": "begin step", "step": 0}, (422, "invalid-request")),
        ({"do": "begin step", "step": 1, "pair": "1 °C, 1 s", "by": "Bo", "confirmed": ["hot"]},
         (422, "unknown-pair")),
        ({"do": "tare"}, (409, "no-open-batch")),
        ({"do": "begin step", "step": 1, "batch": "kitchen-0009"}, (404, "unknown-batch")),
    ],
)  # fmt: skip
async def test_what_cannot_be_is_refused(
    kitchen: Kitchen, body: dict[str, Any], expected: tuple[int, str]
) -> None:
    await weighed(kitchen)
    before = kitchen.kinds()
    answer = await kitchen.do(**body)
    assert code(answer) == expected
    assert answer.json()["detail"]
    assert kitchen.kinds() == before


@pytest.mark.parametrize("literal", ["NaN", "Infinity", "-1e400", '"nan"', "-274", "301", '""'])
async def test_temperatures_that_are_none(kitchen: Kitchen, literal: str) -> None:
    await weighed(kitchen)
    await kitchen.do("begin step", step=1, by="Bo", confirmed=["hot"])
    answer = await kitchen.client.post(
        "/api/batches/kitchen-0001/commands",
        content=f'{{"do": "enter temperature", "step": 1, "temperature": {literal}}}',
        headers={"Content-Type": "application/json", "Idempotency-Key": "k"},
    )
    assert code(answer) in {(422, "bad-value"), (400, "bad-json")}
    assert kitchen.kinds()[-1] == "step begun"


async def test_the_live_link_tells_of_a_step_and_its_time(kitchen: Kitchen) -> None:
    await weighed(kitchen)
    await kitchen.do("begin step", step=1, by="Bo", confirmed=["hot"])
    async with Socket(kitchen.app) as socket:
        snapshot = await socket.frame()
        (batch,) = snapshot["state"]["process"]["batches"]
        assert batch["state"] == "running"
        assert batch["now"]["elapsed_s"] == "0"


async def test_a_batch_that_is_over_is_read_from_the_journal_and_refuses(kitchen: Kitchen) -> None:
    await weighed(kitchen)
    assert (await kitchen.do("abandon", reason="the power failed")).status_code == 200
    kitchen.station.off_bench._over.clear()
    kitchen.station.batch = None
    answer = await kitchen.do("begin step", step=1, by="Bo", confirmed=["hot"])
    assert code(answer) == (409, "batch-over")
    assert kitchen.station.off_bench.get("kitchen-0001") is not None


async def test_a_command_sent_twice_acts_once(kitchen: Kitchen) -> None:
    await weighed(kitchen)
    body: dict[str, Any] = {"step": 1, "by": "Bo", "confirmed": ["hot"], "key": "k"}
    first, again = await kitchen.do("begin step", **body), await kitchen.do("begin step", **body)
    assert first.json()["entry"] == again.json()["entry"]
    assert kitchen.kinds().count("step begun") == 1
