"""The live link: a snapshot, then the newest, in step with the record and never a backlog."""

from __future__ import annotations

import asyncio
from typing import Any

import pytest

from tests.http.kitchen import Kitchen, Socket, until
from weighd.http import live as live_module
from weighd.http.live import LONGEST_MESSAGE, MOST_CLIENTS, MOST_MESSAGES, PACE_S
from weighd.station.ports import Bytes

pytestmark = pytest.mark.anyio


def merged(state: dict[str, Any], frame: dict[str, Any]) -> dict[str, Any]:
    """What a page makes of a change: sections replaced whole, scales one by one."""
    out = {**state, **{k: v for k, v in frame.items() if k in ("station", "batch", "live")}}
    out["scales"] = {**state["scales"], **frame.get("scales", {})}
    return out


async def drain(socket: Socket, state: dict[str, Any], upto: int) -> dict[str, Any]:
    """Take changes until ``upto`` has been told."""
    while True:
        frame = await socket.frame()
        assert frame["kind"] == "change"
        state = merged(state, frame)
        if frame["seq"] >= upto:
            return state


async def test_first_a_snapshot_then_only_what_changed(kitchen: Kitchen) -> None:
    async with Socket(kitchen.app) as socket:
        first = await socket.frame()
        assert first == {
            "kind": "snapshot",
            "seq": kitchen.picture.seq,
            "state": (await kitchen.get("/api/state")).json()["state"],
        }
        await kitchen.show("12.3", 0.1)
        change = await socket.frame()
        assert set(change) == {"kind", "seq", "scales"}
        assert change["seq"] == first["seq"] + 1
        assert change["scales"]["bench"]["reading"]["grams"] == "12.3"
        assert kitchen.live.clients == 1
    await until(lambda: kitchen.live.clients == 0)


async def test_every_page_comes_to_the_same_picture(kitchen: Kitchen) -> None:
    async with Socket(kitchen.app) as early:
        state = (await early.frame())["state"]
        await kitchen.judged()
        assert (await kitchen.do("accept", addition=1)).status_code == 200
        async with Socket(kitchen.app) as late:
            snapshot = await late.frame()
        state = await drain(early, state, snapshot["seq"])
        assert state == snapshot["state"]
        assert snapshot["state"]["batch"]["additions"][0]["status"] == "accepted"


async def test_a_change_to_nothing_is_told(kitchen: Kitchen) -> None:
    await kitchen.start()
    async with Socket(kitchen.app) as socket:
        state = (await socket.frame())["state"]
        assert state["live"] is not None
        answer = await kitchen.do("abandon", reason="made up")
        state = await drain(socket, state, answer.json()["seq"])
        assert state["live"] is None
        assert state["batch"]["status"] == "abandoned"


async def test_a_beat_when_nothing_changes() -> None:
    async with Kitchen(beat_s=0.05) as kitchen, Socket(kitchen.app) as socket:
        assert (await socket.frame())["kind"] == "snapshot"
        for _ in range(3):
            assert await socket.frame() == {"kind": "beat", "seq": kitchen.picture.seq}


async def test_going_on_from_a_number(kitchen: Kitchen) -> None:
    async with Socket(kitchen.app) as socket:
        first = await socket.frame()
    await kitchen.judged()
    async with Socket(kitchen.app) as socket:
        snapshot = await socket.frame()
        socket.say({"kind": "resume", "seq": first["seq"], "boot": "first-boot"})
        newer = await socket.frame()
        assert (newer["kind"], newer["seq"]) == ("change", snapshot["seq"])
        assert "station" not in newer
        assert merged(first["state"], newer) == snapshot["state"]

        socket.say({"kind": "resume", "seq": newer["seq"], "boot": "first-boot"})
        assert await socket.frame() == {"kind": "change", "seq": newer["seq"]}


@pytest.mark.parametrize(
    "asked",
    [
        {"kind": "resume", "seq": 1, "boot": "another-boot"},
        {"kind": "resume", "seq": 1},
        {"kind": "resume", "seq": 10**9, "boot": "first-boot"},
    ],
)
async def test_a_number_of_another_start_gets_a_snapshot(
    kitchen: Kitchen, asked: dict[str, Any]
) -> None:
    async with Socket(kitchen.app) as socket:
        snapshot = await socket.frame()
        socket.say(asked)
        assert await socket.frame() == snapshot


@pytest.mark.parametrize(
    ("said", "code"),
    [
        ("", 1008),
        ("not json", 1008),
        ("[" * LONGEST_MESSAGE, 1008),
        ("7", 1008),
        ("null", 1008),
        ("{}", 1008),
        ('{"kind": "hello"}', 1008),
        ('{"kind": "resume"}', 1008),
        ('{"kind": "resume", "seq": -1}', 1008),
        ('{"kind": "resume", "seq": true}', 1008),
        ('{"kind": "resume", "seq": 1.5}', 1008),
        ('{"kind": "resume", "seq": NaN}', 1008),
        ('{"kind": "resume", "seq": 1, "boot": 7}', 1008),
        ('{"kind": "resume", "seq": 1, "boot": "' + "x" * LONGEST_MESSAGE + '"}', 1009),
        (b'{"kind": "resume", "seq": 1}', 1003),
    ],
)
async def test_a_client_that_talks_nonsense_is_closed(
    kitchen: Kitchen, said: str | bytes, code: int
) -> None:
    """Close codes of RFC 6455, 7.4.1."""
    async with Socket(kitchen.app) as socket, Socket(kitchen.app) as other:
        await socket.frame()
        await other.frame()
        socket.say(said)
        assert await socket.gone() == code
        await kitchen.show("5", 0.1)
        assert (await other.frame())["kind"] == "change"


async def test_a_client_that_talks_too_much_is_closed(kitchen: Kitchen) -> None:
    async with Socket(kitchen.app) as socket:
        for _ in range(MOST_MESSAGES + 1):
            socket.say({"kind": "resume", "seq": 1, "boot": "first-boot"})
        assert await socket.gone() == 1008
        assert len(socket.texts) <= MOST_MESSAGES + 1


async def test_a_slow_client_gets_the_newest_and_no_backlog(kitchen: Kitchen) -> None:
    async with Socket(kitchen.app) as slow, Socket(kitchen.app) as quick:
        snapshot = await slow.frame()
        await quick.frame()
        slow.flows.clear()
        for grams in range(1, 201):
            await kitchen.show(str(grams), 0.1)
            if grams % 10 == 0:
                await asyncio.sleep(2 * PACE_S)
        assert slow.waiting() == 0
        slow.flows.set()
        # What was on its way when it stopped, and after that nothing but the newest.
        frames = [await slow.frame(), await slow.frame()]
        assert frames[-1]["seq"] == kitchen.picture.seq == snapshot["seq"] + 200
        assert frames[-1]["scales"]["bench"]["reading"]["grams"] == "200"
        await asyncio.sleep(0.02)
        assert slow.waiting() == 0
        # The other one was not held up.
        assert quick.waiting() >= 20


async def test_frames_keep_their_distance_and_a_first_change_is_sent_at_once(
    kitchen: Kitchen,
) -> None:
    """Many scales change many times a second: a page is shown no more than a screen can show."""
    kitchen.live.pace_s = 0.2
    async with Socket(kitchen.app) as socket:
        await socket.frame()
        loop = asyncio.get_running_loop()
        began = loop.time()
        await kitchen.show("1", 0.1)
        first = await socket.frame()
        assert loop.time() - began < 0.15
        for grams in range(2, 51):
            await kitchen.show(str(grams), 0.1)
        frames = [await socket.frame()]
        while frames[-1]["seq"] < kitchen.picture.seq:
            frames.append(await socket.frame())
        assert len(frames) <= 1 + (loop.time() - began) / 0.2
        assert frames[-1]["scales"]["bench"]["reading"]["grams"] == "50"
        assert first["seq"] < frames[0]["seq"]


async def test_very_many_who_listen_are_told_less_often(
    kitchen: Kitchen, monkeypatch: pytest.MonkeyPatch
) -> None:
    """So that telling them takes no more than a share of the processor that weighs."""
    kitchen.live.pace_s = 0
    monkeypatch.setattr("weighd.http.live.EACH_S", 0.05)
    async with Socket(kitchen.app) as one, Socket(kitchen.app) as other:
        await one.frame()
        await other.frame()
        loop = asyncio.get_running_loop()
        began = loop.time()
        for grams in range(1, 21):
            await kitchen.show(str(grams), 0.1)
        frames = [await one.frame()]
        while frames[-1]["seq"] < kitchen.picture.seq:
            frames.append(await one.frame())
        assert len(frames) <= 1 + (loop.time() - began) / 0.1  # two of them
        assert frames[-1]["scales"]["bench"]["reading"]["grams"] == "20"


async def test_a_client_that_takes_nothing_is_cut() -> None:
    async with Kitchen(patience_s=0.1) as kitchen, Socket(kitchen.app) as stuck:
        await stuck.frame()
        stuck.flows.clear()
        await kitchen.show("1", 0.1)
        assert await stuck.gone() == 1013
        assert (kitchen.live.clients, kitchen.live.cut) == (0, 1)
        stuck.flows.set()


SEEN = '{"kind":"seen"}'


async def test_who_says_seen_has_one_frame_on_its_way_and_then_the_newest(
    kitchen: Kitchen,
) -> None:
    """A network holds what is sent: what would wait there is not sent; `after` tells its age."""
    async with Socket(kitchen.app, "/api/live?seen") as slow:
        first = await slow.frame()
        assert 0 <= first["after"] < 5
        for grams in range(1, 51):
            await kitchen.show(str(grams), 0.1)
        await asyncio.sleep(0.1)
        assert slow.waiting() == 0
        slow.say(SEEN)
        newest = await slow.frame()
        assert newest["seq"] == kitchen.picture.seq
        assert newest["scales"]["bench"]["reading"]["grams"] == "50"
        assert newest["after"] < 1  # it was made as soon as the one before was seen
        slow.say(SEEN)
        await asyncio.sleep(0.1)
        await kitchen.show("51", 0.1)
        assert 0.1 <= (await slow.frame())["after"] < 5


async def test_who_says_seen_and_then_nothing_is_cut() -> None:
    async with (
        Kitchen(patience_s=0.1, beat_s=0.05) as kitchen,
        Socket(kitchen.app, "/api/live?seen") as asleep,
    ):
        await asleep.frame()
        assert await asleep.gone() == 1013
        assert (kitchen.live.clients, kitchen.live.cut) == (0, 1)


async def test_seen_is_for_who_came_with_it_and_not_without_end(kitchen: Kitchen) -> None:
    async with Socket(kitchen.app) as plain, Socket(kitchen.app, "/api/live?seen") as loud:
        assert "after" not in await plain.frame()
        plain.say(SEEN)
        assert await plain.gone() == 1008
        for _ in range(live_module.MOST_SEEN + 1):
            loud.say(SEEN)
        assert await loud.gone() == 1008


async def test_a_client_that_goes_while_a_frame_is_on_its_way(kitchen: Kitchen) -> None:
    async with Socket(kitchen.app) as socket:
        await socket.frame()
        socket.flows.clear()
        await kitchen.show("1", 0.1)
    await until(lambda: kitchen.live.clients == 0)
    assert socket.closed is None
    assert kitchen.live.cut == 0


async def test_a_frame_is_made_once_for_all(monkeypatch: pytest.MonkeyPatch) -> None:
    async with Kitchen(beat_s=60) as kitchen:  # a busy machine may take longer than a beat
        await _once_for_all(kitchen, monkeypatch)


async def _once_for_all(kitchen: Kitchen, monkeypatch: pytest.MonkeyPatch) -> None:
    made: list[int] = []
    since = kitchen.picture.since

    def counted(seq: int) -> dict[str, Any] | None:
        made.append(seq)
        return since(seq)

    monkeypatch.setattr(kitchen.picture, "since", counted)
    sockets = [Socket(kitchen.app) for _ in range(100)]
    for one in sockets:
        await one.__aenter__()
        await one.frame()
    for grams in range(1, 21):
        await kitchen.show(str(grams), 0.1)
        await until(lambda: all(one.waiting() > 0 for one in sockets))
        told = {one.texts[-1] for one in sockets}
        for one in sockets:
            assert (await one.frame())["seq"] == kitchen.picture.seq
            assert one.waiting() == 0
        assert len(told) == 1
    # 100 clients and 20 changes: a frame a change, not one for every client.
    assert len(made) == 20
    for one in sockets:
        await one.__aexit__()


async def test_there_is_a_most(kitchen: Kitchen, monkeypatch: pytest.MonkeyPatch) -> None:
    assert MOST_CLIENTS >= 100
    monkeypatch.setattr(live_module, "MOST_CLIENTS", 1)
    async with Socket(kitchen.app) as first, Socket(kitchen.app) as second:
        assert first.accepted
        assert (second.accepted, second.closed) == (False, 1013)


async def test_nothing_is_shown_as_accepted_before_it_is_durable(kitchen: Kitchen) -> None:
    """Rule 1: while the disk works on it, and when it fails, pages see the old picture."""
    await kitchen.judged()
    async with Socket(kitchen.app) as socket:
        state = (await socket.frame())["state"]
        append = kitchen.journal.append
        seen: list[str] = []

        def watched(entries: Any) -> None:
            batch = kitchen.picture.state()["batch"]
            seen.append(batch["additions"][0]["status"])
            append(entries)

        kitchen.journal.append = watched  # type: ignore[method-assign]
        answer = await kitchen.do("accept", addition=1)
        state = await drain(socket, state, answer.json()["seq"])
        assert seen == ["current"]
        assert state["batch"]["additions"][0]["status"] == "accepted"


async def test_what_has_piled_up_keeps_nobody_else_in_the_loop_waiting(kitchen: Kitchen) -> None:
    """A machine that was busy with something else finds minutes of readings before it."""
    begin, many = kitchen.station.t, 3000
    for n in range(1, many + 1):
        kitchen.runner.deliver("bench", Bytes(begin + n / 1000, b"0\n"))
    turns = set()
    while kitchen.station.t < begin + many / 1000:
        turns.add(kitchen.runner.turns)
        await asyncio.sleep(0)
    assert len(turns) > many / 100
