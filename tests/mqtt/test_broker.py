"""Stations and watchers on a real broker: kept words, last wills, cut links, shared names."""

from __future__ import annotations

import asyncio
import gc
import os
import subprocess
from pathlib import Path

import aiomqtt
import pytest
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.reasoncodes import ReasonCode

from tests.mqtt.cuttable import Cuttable
from tests.mqtt.world import ANSWER_S, BEAT_S, HANGS_S, Said, net, standing, until, watching
from tests.servers import Mosquitto
from weighd.domain.errors import OperatorError
from weighd.main.watching import forget_station
from weighd.mqtt.link import LinkError, connect, either
from weighd.mqtt.watcher import forget
from weighd.station.floor_broker import Broker
from weighd.station.floor_topics import topic

pytestmark = pytest.mark.anyio


async def test_a_late_watcher_sees_what_was_kept_and_then_what_is_so(broker: Broker) -> None:
    station = Said(broker, "kitchen", "one").start()
    station.say("12.5")
    async with watching(broker) as early:
        await until(
            lambda: net(early, "kitchen") == "12.5" and standing(early, "kitchen") == "here"
        )
        async with watching(broker) as late:
            await until(lambda: net(late, "kitchen") == "12.5")
            await until(lambda: standing(late, "kitchen") == "here")
        station.say("13.0")
        await until(lambda: net(early, "kitchen") == "13.0")
        with pytest.raises(OperatorError, match="Stop it first"):
            await asyncio.to_thread(forget_station, broker, "kitchen")
        await station.stop()
        await until(lambda: standing(early, "kitchen") == "stopped")
    async with watching(broker) as after:
        await until(lambda: standing(after, "kitchen") == "stopped")
        assert net(after, "kitchen") == "13.0"
        assert after.cards()["kitchen"]["since"] == ""
        await forget(broker, "kitchen")
        await until(lambda: after.names() == [])
    async with watching(broker) as none:
        await until(lambda: none.link)
        await asyncio.sleep(0.2)
        assert (none.names(), none.messages) == ([], 0)


async def test_who_is_told_to_end_as_the_link_is_cut_ends(broker: Broker) -> None:
    async with Cuttable(broker.port) as link, watching(broker) as floor:
        station = Said(Broker("127.0.0.1", link.port, top=broker.top), "kitchen", "one").start()
        await until(lambda: standing(floor, "kitchen") == "here")
        link.cut()
        link.mend()
        await asyncio.wait_for(station.end(), 10 * ANSWER_S)
        assert station.publisher.connections == 1


async def test_who_is_told_to_end_as_an_answer_comes_ends() -> None:
    waits, answer = asyncio.Event(), asyncio.get_running_loop().create_future()

    async def says() -> None:
        waits.set()
        await asyncio.wait_for(answer, HANGS_S)  # which loses the first time it is told to end
        await asyncio.Event().wait()

    both = asyncio.create_task(either(asyncio.create_task(says()), asyncio.create_task(says())))
    await waits.wait()
    await asyncio.sleep(0)
    answer.set_result(None)
    both.cancel()
    await asyncio.wait([both], timeout=10 * ANSWER_S)
    assert both.cancelled()


@pytest.mark.parametrize("told", ["to end", "nothing"])
async def test_a_link_that_is_cut_as_it_is_made_is_looked_at(
    told: str, broker: Broker, monkeypatch: pytest.MonkeyPatch
) -> None:
    """In one turn of the loop it is taken in, and somebody is told to end or it is cut."""
    taken_in, loop, here = aiomqtt.Client._on_connect, asyncio.get_running_loop(), []

    def cut(client: aiomqtt.Client) -> None:
        client._on_disconnect(None, None, None, ReasonCode(PacketTypes.DISCONNECT, identifier=128))

    def and_no_more(client: aiomqtt.Client, *said: object) -> None:
        taken_in(client, *said)
        if told == "to end":
            here[0].cancel()
            loop.call_later(0.05, cut, client)
        else:
            cut(client)

    monkeypatch.setattr(aiomqtt.Client, "_on_connect", and_no_more)

    async def knock() -> None:
        async with connect(broker, "cut", patience_s=ANSWER_S):
            pytest.fail("nobody is connected")

    complaints: list[object] = []
    before = loop.get_exception_handler()
    loop.set_exception_handler(lambda _, told: complaints.append(told))
    try:
        here.append(asyncio.create_task(knock()))
        (ended,) = await asyncio.gather(*here, return_exceptions=True)
        await asyncio.sleep(0.1)
        here.clear()
        gc.collect()
    finally:
        loop.set_exception_handler(before)
    assert not complaints
    if told == "to end":
        assert isinstance(ended, asyncio.CancelledError)
    else:
        assert isinstance(ended, LinkError) and "cut" in str(ended)


async def test_names_with_anything_in_them_are_stations_like_others(broker: Broker) -> None:
    names = [
        "a/b",
        "a+b",
        "#",
        "a\0b",
        "Küche 2 – Ölraum",
        "x" * 190,
        "x" * 189 + "y",
        "%2F",
        "$SYS",
    ]
    stations = [Said(broker, one, f"i{n}").start() for n, one in enumerate(names)]
    for n, one in enumerate(stations):
        one.say(f"{n}.5")
    async with watching(broker) as floor:
        for n, name in enumerate(names):
            await until(lambda n=n, name=name: net(floor, name) == f"{n}.5")  # type: ignore[misc]
        assert floor.names() == sorted(names)
        assert not floor.ignored
    for one in stations:
        await one.end()


async def test_a_cut_link_is_told_by_the_last_will_and_mends_by_itself(broker: Broker) -> None:
    async with Cuttable(broker.port) as link, watching(broker) as floor:
        near = Broker("127.0.0.1", link.port, top=broker.top)
        station = Said(near, "kitchen", "one").start()
        station.say("12.5")
        await until(lambda: standing(floor, "kitchen") == "here" and net(floor, "kitchen"))
        link.cut()
        await until(lambda: standing(floor, "kitchen") == "away")
        assert floor.cards()["kitchen"]["since"]
        assert net(floor, "kitchen") == "12.5"  # the last that was known
        for n in range(50):
            station.say(f"{n}.5")  # nobody waits, and none but the last is ever said
        link.mend()
        await until(lambda: standing(floor, "kitchen") == "here")
        assert net(floor, "kitchen") == "49.5"
        assert station.publisher.connections == 2
        await station.end()


async def test_a_broker_that_hangs_holds_nobody_up(broker: Broker) -> None:
    async with Cuttable(broker.port) as link, watching(broker) as floor:
        station = Said(Broker("127.0.0.1", link.port, top=broker.top), "kitchen", "one").start()
        station.say("0.5")
        await until(lambda: net(floor, "kitchen") == "0.5")
        link.hold(True)
        seen = floor.messages
        for n in range(2000):
            station.say(f"{n}.0")
        await until(lambda: standing(floor, "kitchen") == "silent")
        link.hold(False)
        await until(lambda: net(floor, "kitchen") == "1999.0")
        await until(lambda: standing(floor, "kitchen") == "here")
        assert floor.messages - seen < 100  # no backlog
        await station.end()


async def test_two_stations_of_one_name_do_not_fight_for_ever(broker: Broker) -> None:
    async with watching(broker) as floor:
        first = Said(broker, "kitchen", "one", began="2026-03-02T09:00:00.000Z").start()
        first.say("1.0")
        await until(lambda: standing(floor, "kitchen") == "here")
        second = Said(broker, "kitchen", "two", began="2026-03-02T10:00:00.000Z").start()
        second.say("2.0")
        await until(lambda: True in second.clashes and False in first.clashes)
        await until(lambda: floor.cards()["kitchen"]["twice"])
        await until(lambda: net(floor, "kitchen") == "1.0")  # who was there first says all again
        made = (first.publisher.connections, second.publisher.connections)
        await asyncio.sleep(5 * BEAT_S)
        assert (first.publisher.connections, second.publisher.connections) == made
        assert net(floor, "kitchen") == "1.0"
        await first.stop()  # then the name is free
        await until(lambda: standing(floor, "kitchen") == "here")
        assert net(floor, "kitchen") == "2.0"
        await second.end()


async def test_a_last_will_that_comes_late_does_not_hide_who_is_back(broker: Broker) -> None:
    async with watching(broker) as floor:
        station = Said(broker, "kitchen", "two").start()
        await until(lambda: standing(floor, "kitchen") == "here")
        old = Said(broker, "kitchen", "one").publisher
        async with aiomqtt.Client("127.0.0.1", broker.port) as other:
            away = old._payload(old._present("away"))
            await other.publish(topic(broker.top, "kitchen", "presence"), away, 1, retain=True)
        async with watching(broker) as late:
            await until(lambda: standing(late, "kitchen") == "here")
        await station.end()


async def test_what_others_send_is_counted_and_harms_nobody(broker: Broker) -> None:
    async with watching(broker) as floor:
        station = Said(broker, "kitchen", "one").start()
        station.say("12.5")
        await until(lambda: standing(floor, "kitchen") == "here" and net(floor, "kitchen"))
        async with aiomqtt.Client("127.0.0.1", broker.port) as other:
            for section in ("presence", "batch", "clash", "x", "steps"):
                where = f"{broker.top}/1/kitchen/{section}"
                for payload in (b"\xff", b"[]", b'{"v": 9}', b"{" * 70_000, b"x" * 3_000_000):
                    await other.publish(where, payload, qos=1)
        await until(lambda: sum(floor.ignored.values()) >= 20, lambda: floor.ignored)
        await until(lambda: standing(floor, "kitchen") == "here")
        assert net(floor, "kitchen") == "12.5"
        assert floor.names() == ["kitchen"]
        assert station.publisher.connections == 1
        await station.end()


async def test_a_flood_is_not_listened_to(broker: Broker) -> None:
    async with watching(broker, most_a_second=50) as floor:
        await until(lambda: floor.link)
        async with aiomqtt.Client("127.0.0.1", broker.port) as other:
            for _ in range(100):
                await other.publish(f"{broker.top}/1/kitchen/batch", b"x")
        await until(lambda: not floor.link)
        assert "which no stations send" in floor.why


async def test_a_broker_that_lost_everything_has_it_back(tmp_path: Path) -> None:
    with Mosquitto() as own:
        broker = Broker("127.0.0.1", own.port)
        station = Said(broker, "kitchen", "one").start()
        station.say("12.5")
        async with watching(broker) as floor:
            await until(lambda: standing(floor, "kitchen") == "here")
            await asyncio.to_thread(own.stop)
            await until(lambda: standing(floor, "kitchen") == "cut")
            assert floor.why
            station.say("99.5")
            await asyncio.to_thread(own.start)
            await until(lambda: standing(floor, "kitchen") == "here")
            await until(lambda: net(floor, "kitchen") == "99.5")
        async with watching(broker) as late:
            await until(lambda: net(late, "kitchen") == "99.5")  # kept again
        await station.end()


async def test_users_passwords_and_certificates(tmp_path: Path) -> None:
    """With TLS and a password: who has neither is told so, in words and without the password."""
    secret, certificate, key = tmp_path / "secret", tmp_path / "ca.pem", tmp_path / "key.pem"
    make = ["openssl", "req", "-x509", "-newkey", "rsa:2048", "-nodes", "-days", "2"]
    make += ["-keyout", str(key), "-out", str(certificate), "-subj", "/CN=localhost"]
    make += ["-addext", "subjectAltName=DNS:localhost"]
    passwords, users = ["mosquitto_passwd", "-c", "-b"], tmp_path / "users"
    for command in (make, [*passwords, str(users), "kitchen", "pa55word"]):
        done = await asyncio.to_thread(subprocess.run, command, capture_output=True)
        assert done.returncode == 0, done.stderr
    lines = [f"password_file {users}", f"certfile {certificate}", f"keyfile {key}"]
    # As root it would become a user of its own, who may not read what is here.
    own = Mosquitto(*lines, *(["user root"] if os.geteuid() == 0 else []))
    with own:
        port = own.port
        good = Broker("localhost", port, True, "weighd", "kitchen", str(secret), str(certificate))
        secret.write_text("pa55word\n")
        async with watching(good) as floor:
            station = Said(good, "kitchen", "one").start()
            await until(lambda: standing(floor, "kitchen") == "here", lambda: station.troubles)
            await station.end()
        wrong: list[tuple[Broker, str]] = [
            (Broker("localhost", port, True), "TLS failed"),
            (Broker("127.0.0.1", port, True, ca=str(certificate)), "TLS failed"),
            (Broker("localhost", port), "no answer in time"),
        ]
        for broker, said in wrong:
            async with watching(broker) as floor:
                await until(lambda floor=floor: floor.why)  # type: ignore[misc]
                assert said in floor.why
        secret.write_text("another")
        async with watching(good) as floor:
            await until(lambda: floor.why)
            assert "does not take" in floor.why or "does not let" in floor.why
            assert "another" not in floor.why
        secret.unlink()
        async with watching(good) as floor:
            await until(lambda: floor.why)
            assert "password file" in floor.why
