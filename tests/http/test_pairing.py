"""Pairing: a code that lets one device in, and being forgotten."""

from __future__ import annotations

import logging

import pytest

from tests.http.devices import ELSEWHERE, ListDevices, code_for, paired, some_devices
from tests.http.kitchen import HandClock, Kitchen, Socket, until
from tests.http.test_refusals import is_problem
from tests.station.listed_people import PINS, ListStore, Now, PlainPins, kitchen_people
from weighd.domain.devices import CODE_S, DIGITS, MOST_WRONG, May
from weighd.station.devices import FREE, SEEN_S, WAIT_S, Devices, mark_of
from weighd.station.people import People

pytestmark = pytest.mark.anyio


# --- pairing ----------------------------------------------------------------------------------


async def test_a_device_is_let_in_by_the_code_once(open_house: Kitchen, store: ListDevices) -> None:
    code = await code_for(open_house, "work", "tablet at the bench")
    assert len(code) == DIGITS
    assert code.isdigit()
    waiting = (await open_house.get("/api/devices")).json()
    assert waiting["waiting"] == {"name": "tablet at the bench", "may": "work"}
    assert code not in str(waiting)
    tablet = open_house.device()
    answer = await tablet.post("/api/device/pair", json={"code": f"{code[:4]} {code[4:]}"})
    assert answer.status_code == 201
    cookie = answer.headers["set-cookie"]
    for word in ("HttpOnly", "SameSite=strict", "Path=/", "Max-Age="):
        assert word.lower() in cookie.lower()
    token = tablet.cookies["weighd-device-kitchen"]
    assert token not in answer.text
    assert [one.mark for one in store.all()] == [mark_of(token)]
    assert token not in str(store.all())
    assert (await tablet.get("/api/state")).status_code == 200
    # For that one device, and for nobody after it.
    other = open_house.device(address="192.0.2.10")
    is_problem(await other.post("/api/device/pair", json={"code": code}), 401, "wrong-code")
    told = (await open_house.get("/api/devices")).json()
    assert told["waiting"] is None
    [one] = told["devices"]
    assert (one["name"], one["may"], one["this"]) == ("tablet at the bench", "work", False)
    assert token not in str(told)
    assert mark_of(token) not in str(told)
    mine = (await tablet.get("/api/devices")).json()["devices"][0]
    assert mine["this"] is True
    again = await tablet.get("/api/device")
    assert "weighd-device-kitchen" in again.headers["set-cookie"]  # it stays, as long as it is used
    body = {"code": code}
    is_problem(await open_house.post("/api/device/pair", body), 403, "not-here")


async def test_a_code_ends_by_time_by_another_and_when_it_is_taken_back(
    open_house: Kitchen,
) -> None:
    first = await code_for(open_house, "work")
    second = await code_for(open_house, "work")
    tablet = open_house.device()
    is_problem(await tablet.post("/api/device/pair", json={"code": first}), 401, "wrong-code")
    open_house.clock.t += CODE_S
    is_problem(await tablet.post("/api/device/pair", json={"code": second}), 401, "wrong-code")
    third = await code_for(open_house, "work")
    assert (await open_house.post("/api/devices/withdraw")).json() == {"waiting": None}
    is_problem(await tablet.post("/api/device/pair", json={"code": third}), 401, "wrong-code")
    for body in ({}, {"code": 12345678}, {"code": "1" * 41}, {"code": None}):
        answer = await tablet.post("/api/device/pair", json=body)
        is_problem(answer, 422, "invalid-request")


async def test_guessing_has_to_wait_and_ends_the_code(open_house: Kitchen) -> None:
    code = await code_for(open_house, "work")
    wrong = f"{(int(code) + 1) % 10**DIGITS:0{DIGITS}}"
    guesser = open_house.device(address="192.0.2.66")
    for _ in range(FREE):
        is_problem(await guesser.post("/api/device/pair", json={"code": wrong}), 401, "wrong-code")
    held = await guesser.post("/api/device/pair", json={"code": code})
    is_problem(held, 429, "wait-for-code")  # also with the right one
    assert held.json()["wait_s"] == int(held.headers["retry-after"]) <= WAIT_S + 1
    open_house.clock.t += WAIT_S + 1
    is_problem(await guesser.post("/api/device/pair", json={"code": wrong}), 401, "wrong-code")
    for n in range(MOST_WRONG - FREE - 1):  # the rest from everywhere
        one = open_house.device(address=f"192.0.2.{100 + n}")
        is_problem(await one.post("/api/device/pair", json={"code": wrong}), 401, "wrong-code")
    assert (await open_house.get("/api/devices")).json()["waiting"] is None
    honest = open_house.device(address="192.0.2.200")
    is_problem(await honest.post("/api/device/pair", json={"code": code}), 401, "wrong-code")
    assert await paired(open_house, honest, "work")


async def test_who_may_let_a_device_in(store: ListDevices) -> None:
    """At the station, and where people are listed whoever looks after them."""
    devices = some_devices(store=store)
    async with Kitchen(devices=devices, settings=ELSEWHERE) as kitchen:
        tablet, own = kitchen.device(), kitchen.device(address="192.0.2.10")
        gone = await paired(kitchen, tablet, "work")
        await paired(kitchen, own, "all", "own screen")
        asked = {"name": "one more", "may": "all"}
        is_problem(await tablet.post("/api/devices", json=asked), 403, "not-here")
        is_problem(await tablet.post(f"/api/devices/{gone}/forget"), 403, "not-here")
        is_problem(await tablet.post("/api/devices/withdraw"), 403, "not-here")
        first = {"name": "Eve", "pin": "4711", "rights": ["all"]}
        assert (await own.post("/api/devices", json=asked)).status_code == 201
        assert (await tablet.post("/api/people", json=first)).status_code == 404  # none kept here
    people = kitchen_people()
    async with Kitchen(devices=devices, settings=ELSEWHERE, people=people) as kitchen:
        tablet = kitchen.device()
        for it in (tablet, kitchen.client):
            assert (await it.post("/api/devices", json=asked)).status_code in (401, 403)
        signed = await kitchen.post("/api/sign-in", {"name": "Bo", "pin": PINS["Bo"]})
        assert signed.status_code == 200
        is_problem(await kitchen.post("/api/devices", asked), 403, "needs-right")
        await kitchen.post("/api/sign-in", {"name": "Ada", "pin": PINS["Ada"]})
        await paired(kitchen, tablet, "work")
        # Ada at the tablet: her PIN counts there too.
        is_problem(await tablet.post("/api/devices", json=asked), 403, "needs-right")
        await tablet.post("/api/sign-in", json={"name": "Ada", "pin": PINS["Ada"]})
        assert (await tablet.post("/api/devices", json=asked)).status_code == 201


async def test_the_first_person_is_added_at_the_station() -> None:
    people = People(ListStore(), PlainPins(), Now())
    async with Kitchen(devices=some_devices(), settings=ELSEWHERE, people=people) as kitchen:
        tablet = kitchen.device()
        await paired(kitchen, tablet, "work")
        first = {"name": "Eve", "pin": "4711", "rights": ["all"]}
        is_problem(await tablet.post("/api/people", json=first), 403, "not-here")
        assert (await kitchen.post("/api/people", first)).status_code == 201


async def test_names_and_standings_that_are_none(open_house: Kitchen) -> None:
    for asked, code in (
        ({"name": "", "may": "work"}, "bad-name"),
        ({"name": "x" * 61, "may": "work"}, "bad-name"),
        ({"name": "x", "may": "fly"}, "invalid-request"),
        ({"name": "a\u0000b"}, "invalid-request"),
    ):
        is_problem(await open_house.post("/api/devices", asked), 422, code)
    is_problem(await open_house.post("/api/devices/nobody/forget"), 404, "unknown-device")
    async with Kitchen(devices=some_devices()) as closed:
        answer = await closed.post("/api/devices", {"name": "x"})
        is_problem(answer, 404, "no-devices")


# --- forgotten --------------------------------------------------------------------------------


async def test_a_forgotten_device_is_out_at_once(open_house: Kitchen) -> None:
    tablet, other = open_house.device(), open_house.device(address="192.0.2.10")
    identity = await paired(open_house, tablet, "work", "tablet")
    await paired(open_house, other, "work", "other")
    sockets = []
    for it in (tablet, other):
        cookie = f"weighd-device-kitchen={it.cookies['weighd-device-kitchen']}"
        sockets.append(Socket(open_house.second, host="bench.example", cookie=cookie))
    async with sockets[0] as its, sockets[1] as others:
        await its.frame()
        told = await open_house.post(f"/api/devices/{identity}/forget")
        assert [one["name"] for one in told.json()["devices"]] == ["other"]
        assert await its.gone() == 1008
        assert (await others.frame())["kind"] == "snapshot"
        assert others.closed is None
    is_problem(await tablet.get("/api/state"), 401, "not-paired")
    assert (await other.get("/api/state")).status_code == 200
    assert (await other.post("/api/device/leave")).json() == {"home": False, "device": None}
    is_problem(await other.get("/api/state"), 401, "not-paired")


async def test_the_same_name_anew_takes_the_place_of_the_old(
    open_house: Kitchen, store: ListDevices
) -> None:
    old, new = open_house.device(), open_house.device(address="192.0.2.10")
    await paired(open_house, old, "work", "Tablet")
    await paired(open_house, new, "look", "tablet")
    is_problem(await old.get("/api/state"), 401, "not-paired")
    assert (await new.get("/api/state")).status_code == 200
    assert [one.name for one in store.all()] == ["tablet"]


async def test_when_a_device_was_seen_is_written_now_and_then(
    open_house: Kitchen, store: ListDevices
) -> None:
    tablet = open_house.device()
    await paired(open_house, tablet, "work")
    written = store.writes
    for _ in range(5):
        await tablet.get("/api/state")
    assert store.writes == written
    open_house.clock.t += SEEN_S + 1
    await tablet.get("/api/state")
    await until(lambda: store.writes == written + 1)
    [one] = store.all()
    assert one.seen > one.since


def test_devices_outlive_a_restart(store: ListDevices) -> None:
    clock = HandClock()
    first = some_devices(clock, store)
    token, device = first.pair(first.offer("tablet", May.WORK).code, "192.0.2.9")
    second: Devices = some_devices(clock, store)
    assert second.of_token(token) == device
    assert second.of_token("") is None
    assert second.of_token(f"{token}x") is None


async def test_neither_code_nor_token_nor_name_is_in_the_log(
    open_house: Kitchen, caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level(logging.DEBUG)
    tablet = open_house.device()
    code = await code_for(open_house, "work", "Adas tablet")
    await tablet.post("/api/device/pair", json={"code": "00000000"})
    await tablet.post("/api/device/pair", json={"code": code})
    token = tablet.cookies["weighd-device-kitchen"]
    await tablet.post("/api/device/leave")
    assert "was paired" in caplog.text
    for secret in (code, token, mark_of(token), "Adas"):
        assert secret not in caplog.text.replace("/api/", "")
