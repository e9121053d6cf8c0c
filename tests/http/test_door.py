"""The two doors: who comes in by which, pairing, and being forgotten."""

from __future__ import annotations

import pytest

from tests.http.devices import ELSEWHERE, NAMES, ListDevices, code_for, paired, some_devices
from tests.http.kitchen import Kitchen, Socket
from tests.http.test_refusals import is_problem
from tests.station.listed_people import PINS, kitchen_people
from weighd.http import door
from weighd.http.door import AtSecondDoor, Elsewhere
from weighd.http.ports import HttpSettings
from weighd.station.devices import FREE

pytestmark = pytest.mark.anyio


# --- which door it was ------------------------------------------------------------------------


@pytest.mark.parametrize(
    "passed",
    [
        {"X-Forwarded-For": "192.0.2.9"},
        {"X-Forwarded-Proto": "https"},
        {"Forwarded": "for=192.0.2.9"},
        {"Via": "1.1 front"},
        {"X-Real-IP": "192.0.2.9"},
    ],
)
async def test_what_a_proxy_passed_on_does_not_stand_at_the_station(
    kitchen: Kitchen, passed: dict[str, str]
) -> None:
    is_problem(await kitchen.get("/api/state", **passed), 421, "wrong-door")
    headers = {name.lower(): value for name, value in passed.items()}
    async with Socket(kitchen.app, **headers) as socket:
        assert (socket.accepted, socket.closed) == (False, 1008)


async def test_nor_does_what_speaks_as_old_proxies_do(kitchen: Kitchen) -> None:
    """One that leaves no marks still speaks HTTP/1.0 where nobody told it otherwise."""
    old = Socket(kitchen.app)
    old._scope["http_version"] = "1.0"
    async with old as socket:
        assert (socket.accepted, socket.closed) == (False, 1008)


async def test_another_computer_does_not_come_in_by_the_first_door(kitchen: Kitchen) -> None:
    """Though nobody should ever have it listen there."""
    kitchen.client._transport.client = ("192.0.2.9", 5)  # type: ignore[attr-defined]
    is_problem(await kitchen.get("/api/state"), 421, "wrong-door")


@pytest.mark.parametrize("host", ["localhost", "127.0.0.1:8451", "evil.example", "tight.example"])
async def test_the_second_door_has_names_of_its_own(open_house: Kitchen, host: str) -> None:
    """Coming from this computer, by a name of this computer, makes nobody at home there."""
    for address in ("127.0.0.1", "192.0.2.9"):
        answer = await open_house.device(host, address).get("/api/health")
        is_problem(answer, 421, "unknown-host")
    for name in NAMES:
        assert (await open_house.device(name, "127.0.0.1").get("/api/health")).status_code == 200
        is_problem(await open_house.device(name, "127.0.0.1").get("/api/state"), 401, "not-paired")


async def test_headers_make_nobody_at_home(open_house: Kitchen) -> None:
    for lie in (
        {"X-Forwarded-For": "127.0.0.1"},
        {"Forwarded": "for=127.0.0.1"},
        {"Cookie": "weighd-device-kitchen=x; __Host-weighd-device-kitchen=x"},
        {"Authorization": "Bearer x"},
    ):
        answer = await open_house.device().get("/api/state", headers=lie)
        is_problem(answer, 401, "not-paired")
        assert answer.headers["www-authenticate"].startswith("Bearer")


async def test_a_proxy_is_believed_where_it_is_named_and_nobody_else(store: ListDevices) -> None:
    settings = HttpSettings(
        elsewhere=Elsewhere(("bench.example",), proxy="127.0.0.1"), addresses=("https://x/",)
    )
    async with Kitchen(devices=some_devices(store=store), settings=settings) as kitchen:
        is_problem(await kitchen.device().get("/api/health"), 421, "wrong-door")
        front = kitchen.device(address="127.0.0.1")
        by_tls = {"X-Forwarded-For": "10.1.1.1, 192.0.2.9", "X-Forwarded-Proto": "https"}
        code = await code_for(kitchen, "work")
        for n in range(FREE):
            wrong = {**by_tls, "X-Forwarded-For": f"10.1.1.{n}, 192.0.2.9"}  # all but the last lie
            answer = await front.post("/api/device/pair", json={"code": "1"}, headers=wrong)
            is_problem(answer, 401, "wrong-code")
        again = await front.post("/api/device/pair", json={"code": code}, headers=by_tls)
        is_problem(again, 429, "wait-for-code")
        other = {**by_tls, "X-Forwarded-For": "192.0.2.10"}
        made = await front.post("/api/device/pair", json={"code": code}, headers=other)
        assert made.status_code == 201
        cookie = made.headers["set-cookie"]
        assert cookie.startswith("__Host-weighd-device-kitchen=")
        assert "; Secure" in cookie


# --- strangers --------------------------------------------------------------------------------


async def test_a_stranger_is_told_nothing(open_house: Kitchen) -> None:
    stranger = open_house.device()
    health = await stranger.get("/api/health")
    assert health.json() == {"status": "ok"}
    assert (await stranger.get("/api/device")).json() == {"home": False, "device": None}
    assert (await open_house.get("/api/device")).json() == {"home": True, "device": None}
    for path in ("/api/state", "/metrics", "/api/docs", "/api/openapi.json", "/api/devices"):
        is_problem(await stranger.get(path), 401, "not-paired")
    assert (await stranger.get("/")).status_code == 200  # the page, which has the way in
    is_problem(await stranger.get("/no-such-file"), 401, "not-paired")
    for path in ("/api/live", "/api/live?seen"):
        async with Socket(open_house.second, path, host="bench.example") as socket:
            assert (socket.accepted, socket.closed, socket.texts) == (False, 1008, [])


async def test_strangers_may_not_ask_without_end(
    open_house: Kitchen, monkeypatch: pytest.MonkeyPatch
) -> None:
    stranger, other = open_house.device(), open_house.device(address="192.0.2.77")
    for _ in range(int(door.BURST)):
        assert (await stranger.get("/api/health")).status_code == 200
    held = await stranger.get("/api/health")
    is_problem(held, 429, "too-many-requests")
    assert held.headers["retry-after"]
    assert (await other.get("/api/health")).status_code == 200
    async with Socket(AtSecondDoor(open_house.app), host="bench.example") as socket:
        assert not socket.accepted
    open_house.clock.t += 1
    answers = [(await stranger.get("/api/health")).status_code for _ in range(6)]
    assert answers == [200] * int(door.RATE) + [429] * (6 - int(door.RATE))
    # Whoever was let in is not held by what strangers do.
    tablet = open_house.device(address="192.0.2.78")
    await paired(open_house, tablet, "look")
    monkeypatch.setattr(open_house.app.state.room.door._buckets, "_all", (0.0, open_house.clock.t))
    assert (await tablet.get("/api/state")).status_code == 200
    is_problem(await open_house.device(address="192.0.2.79").get("/"), 429, "too-many-requests")


def test_of_ipv6_a_network_counts_as_one() -> None:
    assert door.address_key("2001:db8::1") == door.address_key("2001:db8::ffff:1")
    assert door.address_key("2001:db8:0:1::1") != door.address_key("2001:db8::1")
    assert door.address_key("::ffff:192.0.2.9") == door.address_key("192.0.2.9") == "192.0.2.9"
    assert door.address_key("fe80::1%eth0") == "fe80::/64"


# --- what a device may ------------------------------------------------------------------------


async def test_a_device_that_looks_changes_nothing(open_house: Kitchen) -> None:
    wall = open_house.device()
    await paired(open_house, wall, "look")
    assert (await wall.get("/api/state")).status_code == 200
    for path, body in (
        ("/api/batches", {"formula": "test-ice", "operator": "Ada"}),
        ("/api/sign-in", {"name": "Ada", "pin": "4711"}),
        ("/api/solve", {"of": "test-ice"}),
        ("/api/devices", {"name": "x"}),
    ):
        answer = await wall.post(path, json=body, headers={"Idempotency-Key": "k"})
        is_problem(answer, 403, "looks-only")
    assert open_house.kinds() == []
    headers = {"cookie": f"weighd-device-kitchen={wall.cookies['weighd-device-kitchen']}"}
    async with Socket(open_house.second, host="bench.example", **headers) as socket:
        assert (await socket.frame())["kind"] == "snapshot"


async def test_a_page_of_another_site_is_no_better_off_with_the_cookie(
    open_house: Kitchen,
) -> None:
    tablet = open_house.device()
    await paired(open_house, tablet, "work")
    body = {"formula": "test-ice", "operator": "Ada"}
    for lie in (
        {"Origin": "http://evil.example"},
        {"Origin": "null"},
        {"Origin": "http://bench.example:9999"},
        {"Sec-Fetch-Site": "same-site"},
    ):
        answer = await tablet.post("/api/batches", json=body, headers=lie)
        is_problem(answer, 403, "foreign-origin")
    form = {"Content-Type": "text/plain", "Idempotency-Key": "k"}
    is_problem(await tablet.post("/api/batches", content="{}", headers=form), 415, "not-json")
    cookie = f"weighd-device-kitchen={tablet.cookies['weighd-device-kitchen']}"
    async with Socket(
        open_house.second, host="bench.example", cookie=cookie, origin="http://evil.example"
    ) as socket:
        assert (socket.accepted, socket.closed) == (False, 1008)
    assert open_house.kinds() == []


async def test_who_signed_in_at_a_device_is_signed_in_at_no_other() -> None:
    people = kitchen_people()
    async with Kitchen(devices=some_devices(), settings=ELSEWHERE, people=people) as kitchen:
        await kitchen.post("/api/sign-in", {"name": "Ada", "pin": PINS["Ada"]})
        one, other = kitchen.device(), kitchen.device(address="192.0.2.10")
        await paired(kitchen, one, "work", "one")
        await paired(kitchen, other, "work", "other")
        await one.post("/api/sign-in", json={"name": "Bo", "pin": PINS["Bo"]})
        assert (await one.get("/api/people")).json()["me"]["name"] == "Bo"
        for thief in (other, kitchen.client):
            thief.cookies.set("weighd-kitchen", one.cookies["weighd-kitchen"])
            assert (await thief.get("/api/people")).json()["me"] is None
        assert (await one.get("/api/people")).json()["me"]["name"] == "Bo"


async def test_a_program_reads_the_metrics_and_nothing_else(open_house: Kitchen) -> None:
    program = open_house.device()
    token = {"Authorization": f"Bearer {ELSEWHERE.elsewhere.metrics}"}
    answer = await program.get("/metrics", headers=token)
    assert answer.status_code == 200
    assert b"weighd_scale_link" in answer.content
    for path in ("/api/state", "/api/devices", "/api/docs"):
        is_problem(await program.get(path, headers=token), 401, "not-paired")
    for wrong in ("Bearer x", "Basic x", f"Bearer {ELSEWHERE.elsewhere.metrics}x", "Bearer"):
        refused = await program.get("/metrics", headers={"Authorization": wrong})
        is_problem(refused, 401, "not-paired")
    assert "read-the-metrics" not in repr(ELSEWHERE)


async def test_websockets_of_a_device_are_counted(
    open_house: Kitchen, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(door, "MOST_SOCKETS", 1)
    tablet = open_house.device()
    await paired(open_house, tablet, "work")
    cookie = f"weighd-device-kitchen={tablet.cookies['weighd-device-kitchen']}"
    at = {"host": "bench.example", "cookie": cookie}
    async with Socket(open_house.second, **at) as first:
        assert first.accepted
        async with Socket(open_house.second, **at) as second:
            assert (second.accepted, second.closed) == (False, 1013)
        async with Socket(open_house.app) as home:
            assert home.accepted
    async with Socket(open_house.second, **at) as third:
        assert third.accepted
