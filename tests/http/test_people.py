"""Who may do what over HTTP: signed in by PIN, helped by somebody else's, or not at all."""

from __future__ import annotations

from collections.abc import AsyncIterator, Mapping
from typing import Any

import pytest
from fastapi.routing import APIRoute

from tests.http.devices import ELSEWHERE, paired, some_devices
from tests.http.kitchen import Kitchen, until
from tests.station.listed_people import PINS, ListStore, Now, PlainPins, kitchen_people
from weighd.domain.addition import Do
from weighd.domain.people import Right
from weighd.domain.process_orders import Ask
from weighd.domain.verify import Verifier
from weighd.http.caller import WRONG
from weighd.http.ports import HttpSettings, room_of
from weighd.http.rights import COMMANDS, ROUTES, need_of
from weighd.station.off_bench import COMMANDS as OFF_BENCH
from weighd.station.people import People

pytestmark = pytest.mark.anyio


@pytest.fixture
async def staffed() -> AsyncIterator[Kitchen]:
    """Ada may do everything, Bo accept and countersign, Cy nothing."""
    async with Kitchen(people=kitchen_people(), settings=HttpSettings(stay_s=900)) as one:
        yield one


async def sign_in(kitchen: Kitchen, name: str, pin: str = "") -> Any:
    asked = {"name": name, "pin": pin or PINS[name]}
    return await kitchen.client.post("/api/sign-in", json=asked)


async def lend(kitchen: Kitchen, name: str, right: Right) -> dict[str, str]:
    asked = {"name": name, "pin": PINS[name], "right": str(right)}
    answer = await kitchen.client.post("/api/allow", json=asked)
    assert answer.status_code == 200, answer.text
    return {"Weighd-Lent": answer.json()["token"]}


def code(answer: Any) -> tuple[int, str]:
    return answer.status_code, answer.json()["code"]


# --- the table --------------------------------------------------------------------------------


def test_every_route_that_changes_something_has_a_row_and_passes_the_guard() -> None:
    # A router that was taken in is one route with its own inside, or (older) those themselves.
    parts = [getattr(one, "original_router", None) for one in Kitchen().app.routes]
    listed = [it for one in parts if one is not None for it in one.routes]
    routes = [one for one in (*listed, *Kitchen().app.routes) if isinstance(one, APIRoute)]
    found = {
        (method, one.path): one
        for one in routes
        for method in one.methods - {"GET", "HEAD"}
        if one.path.startswith("/api")
    }
    assert len(found) > 20
    assert set(found) == set(ROUTES), "say in weighd/http/rights.py who may"
    for key, one in found.items():
        assert any(it.call is room_of for it in one.dependant.dependencies), key


def test_every_command_has_a_row() -> None:
    assert set(COMMANDS) == {*map(str, Do), *map(str, Ask), *OFF_BENCH}


@pytest.mark.parametrize(
    ("asked", "due"),
    [
        (("POST", "/api/nothing/yet", {}), Right.PEOPLE),  # what has no row is for few
        (("PUT", "/api/limits/{kind}", {}), Right.FORMULAS),
        (("POST", "/api/batches/{batch}/commands", {"do": "correct"}), Right.CORRECT),
        (("POST", "/api/batches/{batch}/commands", {"do": "countersign"}), Right.COUNTERSIGN),
        (("POST", "/api/batches/{batch}/commands", {"do": "accept step"}), Right.ACCEPT),
        (("POST", "/api/batches/{batch}/commands", {"do": "close batch"}), Right.DISCARD),
        (("POST", "/api/batches/{batch}/commands", {"do": "name lot"}), None),
        (("POST", "/api/batches/{batch}/commands", {"do": "name lot", "reason": "x"}), Right.LOTS),
        (("POST", "/api/batches/{batch}/commands", {"do": ["accept"]}), None),
        (("POST", "/api/batches/{batch}/yield", {"corrects": 1}), Right.CORRECT),
        (("POST", "/api/batches/{batch}/yield", {"corrects": None}), None),
        (("POST", "/api/lots/{lot}/commands", {"do": "block"}), None),
        (("POST", "/api/lots/{lot}/commands", {"do": "release"}), Right.LOTS),
    ],
)
def test_which_right_is_needed(asked: tuple[str, str, Mapping[str, Any]], due: Right) -> None:
    assert need_of(*asked) is due


# --- nobody listed ----------------------------------------------------------------------------


async def test_without_people_all_is_as_it_was(kitchen: Kitchen) -> None:
    told = (await kitchen.get("/api/people")).json()
    assert (told["listed"], told["people"], told["me"]) == (False, [], None)
    assert code(await sign_in(kitchen, "Ada")) == (404, "no-people")
    assert (await kitchen.client.post("/api/sign-out")).status_code == 200


async def test_the_first_is_added_by_anybody_and_then_it_counts() -> None:
    people = People(ListStore(), PlainPins(), Now())
    async with Kitchen(people=people) as kitchen:
        assert (await kitchen.start(operator="Whoever")).status_code == 201
        asked = {"name": "Ada", "pin": "4711", "rights": ["correct"]}
        assert code(await kitchen.post("/api/people", asked)) == (409, "first-needs-all")
        simple = {"name": "Ada", "pin": "1111", "rights": ["all"]}
        assert code(await kitchen.post("/api/people", simple)) == (422, "bad-pin")
        made = await kitchen.post("/api/people", {**simple, "pin": "4711"})
        assert (made.status_code, len(made.json()["people"])) == (201, 1)
        assert "4711" not in made.text
        again = {"name": "Bo", "pin": "2580", "rights": []}
        refused = await kitchen.post("/api/people", again)
        assert code(refused) == (403, "needs-right")
        assert refused.json()["who_may"] == ["Ada"]
        assert code(await kitchen.do("abandon", reason="x", by="Whoever")) == (
            409,
            "unknown-person",
        )
        await sign_in(kitchen, "Ada")
        assert (await kitchen.post("/api/people", again)).status_code == 201


# --- signed in --------------------------------------------------------------------------------


async def test_signing_in_staying_and_signing_out(staffed: Kitchen) -> None:
    answer = await sign_in(staffed, "Ada")
    assert answer.json()["me"]["name"] == "Ada"
    cookie = answer.headers["set-cookie"]
    assert cookie.startswith("weighd-kitchen=")
    for word in ("HttpOnly", "SameSite=strict", "Path=/"):
        assert word.lower() in cookie.lower()
    assert PINS["Ada"] not in cookie
    told = (await staffed.get("/api/people")).json()
    assert (told["me"]["name"], told["me"]["left_s"]) == ("Ada", 900)
    assert [one["name"] for one in told["people"]] == ["Ada", "Bo", "Cy"]
    assert "plain:" not in str(told)
    staffed.clock.t += 800
    assert (await staffed.start()).status_code == 201  # doing something counts from now
    staffed.clock.t += 800
    assert (await staffed.get("/api/people")).json()["me"]["name"] == "Ada"  # looking does not
    staffed.clock.t += 101
    assert (await staffed.get("/api/people")).json()["me"] is None
    await sign_in(staffed, "Ada")
    await sign_in(staffed, "Cy")  # a change of person, in one step
    assert (await staffed.get("/api/people")).json()["me"]["name"] == "Cy"
    await staffed.client.post("/api/sign-out")
    assert (await staffed.get("/api/people")).json()["me"] is None
    staffed.client.cookies.set("weighd-kitchen", "guessed")
    assert (await staffed.get("/api/people")).json()["me"] is None


async def test_wrong_pins_are_told_with_the_seconds_and_alike_for_nobody(staffed: Kitchen) -> None:
    told = {}
    for name in ("Bo", "Zoe"):
        answers = [await sign_in(staffed, name, "0001") for _ in range(4)]
        assert [one.status_code for one in answers] == [401, 401, 401, 429]
        assert answers[3].headers["retry-after"] == "5"
        assert answers[3].json()["wait_s"] == 5
        told[name] = [one.json() for one in answers]
    assert told["Bo"] == told["Zoe"]
    for pin in ("", "x" * 41, 4711):
        asked = {"name": "Bo", "pin": pin}
        assert (await staffed.client.post("/api/sign-in", json=asked)).status_code in (422, 429)


async def test_many_names_are_no_way_round_the_wait() -> None:
    """Each name has three tries that cost nothing; a device has no more than so many in all."""
    people, devices = kitchen_people(), some_devices()
    async with Kitchen(people=people, devices=devices, settings=ELSEWHERE) as kitchen:
        await sign_in(kitchen, "Ada")
        tablet, other = kitchen.device(), kitchen.device(address="192.0.2.10")
        await paired(kitchen, tablet, "work", "tablet")
        await paired(kitchen, other, "work", "other")
        for n in range(WRONG):
            asked = {"name": f"Nobody {n}", "pin": "0001"}
            assert code(await tablet.post("/api/sign-in", json=asked)) == (401, "wrong-pin")
        right = {"name": "Bo", "pin": PINS["Bo"]}
        held = (429, "too-many-requests")
        assert code(await tablet.post("/api/sign-in", json=right)) == held
        lent = {**right, "right": "countersign"}
        assert code(await tablet.post("/api/allow", json=lent)) == held
        assert (await other.post("/api/sign-in", json=right)).status_code == 200
        assert (await sign_in(kitchen, "Cy")).status_code == 200
        kitchen.clock.t += 61
        assert (await tablet.post("/api/sign-in", json=right)).status_code == 200


async def test_names_are_those_of_the_list_and_of_who_is_signed_in(staffed: Kitchen) -> None:
    assert code(await staffed.start(operator="Zoe")) == (409, "unknown-person")
    assert (await staffed.start(operator="cy")).status_code == 201
    opened = list(staffed.journal.entries())[-1]
    assert (opened.body["operator"], "proved" in opened.body) == ("Cy", False)
    await sign_in(staffed, "Bo")
    assert code(await staffed.do("accept", by="Ada")) == (409, "other-name")
    await staffed.show("250")
    await until(lambda: "tare" in staffed.station.can())
    answer = await staffed.do("tare", addition=1)
    assert answer.status_code == 200, answer.text
    tared = list(staffed.journal.entries())[-1]
    assert (tared.body["by"], tared.body["proved"]) == ("Bo", {"Bo": "pin"})


# --- acts that need a right -------------------------------------------------------------------


async def over(kitchen: Kitchen) -> None:
    """A batch of Cy's with too much milk in it."""
    assert (await kitchen.start(operator="Cy")).status_code == 201
    await kitchen.show("250")
    await until(lambda: "tare" in kitchen.station.can())
    assert (await kitchen.do("tare", addition=1, by="Cy")).status_code == 200
    await kitchen.pour("250", "790")


async def test_what_is_out_of_tolerance_waits_for_somebody_who_may(staffed: Kitchen) -> None:
    await over(staffed)
    asked = {"addition": 1, "by": "Cy", "reason": "the pot is full"}
    assert code(await staffed.do("accept", addition=1, by="Cy")) == (409, "needs-reason")
    refused = await staffed.do("accept", **asked)
    assert code(refused) == (403, "needs-right")
    assert refused.json()["right"] == "accept out of tolerance"
    assert refused.json()["who_may"] == ["Ada", "Bo"]
    await sign_in(staffed, "Cy")
    refused = await staffed.do("accept", **asked)
    assert refused.json()["detail"].startswith("Cy may not do this")
    assert "addition accepted" not in staffed.kinds()
    # Bo leans over.
    lent = await lend(staffed, "Bo", Right.ACCEPT)
    path = "/api/batches/kitchen-0001/commands"
    first = await staffed.post(path, {"do": "accept", **asked}, key="once", **lent)
    assert first.status_code == 200, first.text
    again = await staffed.post(path, {"do": "accept", **asked}, key="once", **lent)
    assert (again.status_code, again.json()["entry"]) == (200, first.json()["entry"])
    entry = next(one for one in staffed.journal.entries() if one.kind == "addition accepted")
    assert (entry.body["operator"], entry.body["allowed_by"]) == ("Cy", "Bo")
    assert entry.body["proved"] == {"Cy": "pin", "Bo": "pin"}
    # It was for that one act.
    await staffed.pour("790", "950")
    other = {"do": "accept", "addition": 2, "by": "Cy", "reason": "again"}
    assert code(await staffed.post(path, other, **lent)) == (403, "needs-right")
    verifier = Verifier(whole=True)
    for one in staffed.journal.entries():
        verifier.take(one)
    verifier.finish()


async def test_what_is_on_target_needs_nothing_and_who_may_needs_nobody(staffed: Kitchen) -> None:
    await over(staffed)
    await sign_in(staffed, "Bo")
    asked = {"addition": 1, "by": "Bo", "reason": "the pot is full"}
    assert (await staffed.do("accept", **asked)).status_code == 200
    entry = next(one for one in staffed.journal.entries() if one.kind == "addition accepted")
    assert (entry.body["operator"], entry.body["proved"]) == ("Bo", {"Bo": "pin"})
    assert "allowed_by" not in entry.body
    await staffed.client.post("/api/sign-out")
    await staffed.pour("790", "910")
    assert (await staffed.do("accept", addition=2, by="Cy")).status_code == 200


async def test_a_hand_is_lent_only_by_who_may_and_not_for_something_else(staffed: Kitchen) -> None:
    asked = {"name": "Cy", "pin": PINS["Cy"], "right": "correct"}
    assert code(await staffed.client.post("/api/allow", json=asked)) == (403, "not-allowed")
    asked = {"name": "Bo", "pin": PINS["Bo"], "right": "fly"}
    assert code(await staffed.client.post("/api/allow", json=asked)) == (422, "unknown-right")
    await over(staffed)
    lent = await lend(staffed, "Bo", Right.COUNTERSIGN)
    path = "/api/batches/kitchen-0001/commands"
    given = {"do": "abandon", "by": "Cy", "reason": "x"}
    assert code(await staffed.post(path, given, **lent)) == (403, "needs-right")
    lent = await lend(staffed, "Ada", Right.DISCARD)
    staffed.clock.t += 121
    assert code(await staffed.post(path, given, **lent)) == (403, "needs-right")
    lent = await lend(staffed, "Ada", Right.DISCARD)
    assert (await staffed.post(path, given, **lent)).status_code == 200
    assert "batch abandoned" in staffed.kinds()


async def test_who_may_by_name_alone_may_not(staffed: Kitchen) -> None:
    """A name typed proves nothing, though it is Ada's."""
    await over(staffed)
    given = {"by": "Ada", "reason": "x"}
    assert code(await staffed.do("abandon", **given)) == (403, "needs-right")
    lent = await lend(staffed, "Ada", Right.DISCARD)
    path = "/api/batches/kitchen-0001/commands"
    assert (await staffed.post(path, {"do": "abandon", **given}, **lent)).status_code == 200
    entry = list(staffed.journal.entries())[-1]
    assert (entry.body["by"], entry.body["proved"]) == ("Ada", {"Ada": "pin"})
    assert "allowed_by" not in entry.body


async def test_a_batch_is_countersigned_by_who_may(staffed: Kitchen) -> None:
    await over(staffed)
    await sign_in(staffed, "Ada")
    assert (await staffed.do("abandon", by="Ada", reason="x")).status_code == 200
    told = (await staffed.get("/api/batches/kitchen-0001/countersigned")).json()
    assert (told["over"], told["countersigned"]) == (True, [])
    sign = {"entry": told["entries"], "note": "seen"}
    assert code(await staffed.do("countersign", **sign)) == (409, "own-batch")
    await sign_in(staffed, "Cy")
    assert code(await staffed.do("countersign", **sign)) == (403, "needs-right")
    lent = await lend(staffed, "Bo", Right.COUNTERSIGN)
    path = "/api/batches/kitchen-0001/commands"
    asked = {"do": "countersign", **sign}
    assert code(await staffed.post(path, asked, **lent)) == (403, "needs-right")  # Bo did not look
    await sign_in(staffed, "Bo")
    assert (await staffed.do("countersign", **sign)).status_code == 200
    [one] = (await staffed.get("/api/batches/kitchen-0001/countersigned")).json()["countersigned"]
    assert (one["by"], one["note"], one["later"]) == ("Bo", "seen", 0)
    assert code(await staffed.do("countersign", entry=told["entries"] + 1)) == (
        409,
        "countersigned-already",
    )


# --- looking after the list -------------------------------------------------------------------


async def test_pins_rights_and_retiring_take_effect_at_once(staffed: Kitchen) -> None:
    await sign_in(staffed, "Bo")
    bos = dict(staffed.client.cookies)
    assert code(await staffed.post("/api/people/Cy/pin", {"pin": "3141"})) == (403, "needs-right")
    await sign_in(staffed, "Ada")
    more = await staffed.post("/api/people/Cy/rights", {"rights": ["correct"]})
    assert next(it for it in more.json()["people"] if it["name"] == "Cy")["rights"] == ["correct"]
    assert (await staffed.post("/api/people/Bo/pin", {"pin": "3141"})).status_code == 200
    gone = await staffed.post("/api/people/Cy/retire")
    assert [it["name"] for it in gone.json()["people"]] == ["Ada", "Bo"]
    everybody = (await staffed.get("/api/people?retired=true")).json()["people"]
    assert [bool(it["retired"]) for it in everybody] == [False, False, True]
    for wrong, due in (
        (("/api/people/Cy/rights", {"rights": ["all"]}), (409, "person-retired")),
        (("/api/people/Zoe/retire", None), (409, "unknown-person")),
        (("/api/people/Ada/retire", None), (409, "last-keeper")),
        (("/api/people/Ada/rights", {"rights": []}), (409, "last-keeper")),
        (("/api/people", {"name": "cy", "pin": "3141", "rights": []}), (409, "person-exists")),
    ):
        assert code(await staffed.post(*wrong)) == due
    staffed.client.cookies.clear()
    staffed.client.cookies.update(bos)
    assert (await staffed.get("/api/people")).json()["me"] is None  # another PIN signs out
    assert code(await sign_in(staffed, "Cy")) == (401, "wrong-pin")
    assert (await sign_in(staffed, "Bo", "3141")).status_code == 200


async def test_formulas_ingredients_and_limits_are_not_for_everybody(staffed: Kitchen) -> None:
    for path in ("/api/formulas/x", "/api/ingredients/x", "/api/limits/x"):
        answer = await staffed.client.put(path, json={})
        assert code(answer) == (403, "needs-right"), path
    for path in ("/api/people/Bo/pin", "/api/people/Bo/retire"):
        assert code(await staffed.post(path, {"pin": "3141"})) == (403, "needs-right")
    broken = {"content": b"{", "headers": {"Content-Type": "application/json"}}
    assert (await staffed.client.post("/api/batches", **broken)).status_code == 400
    assert (await staffed.client.post("/api/batches", json=[1])).status_code == 422
