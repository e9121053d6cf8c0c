"""A service manager is told what is so: ready when it is, alive while everything goes on."""

from __future__ import annotations

import asyncio
import contextlib
import json
import os
import signal
import socket
import ssl
import subprocess
import sys
import threading
import time
import urllib.request
from collections.abc import Callable, Sequence
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from tests.forked import start
from tests.http.kitchen import Kitchen
from tests.pty_scale import PtyScale
from tests.servers import free_port
from tests.station.daemon import QUICK, Cook, Served, kitchen, until
from tests.station.notified import Notified
from tests.station.tls_files import tls_files
from weighd.config import Config
from weighd.domain.errors import JournalError
from weighd.main.second_door import second_door
from weighd.main.supervisor import ELSEWHERE, PAGE, Supervisor
from weighd.main.watch import Rounds, Watch, standing
from weighd.station.runner import Runner

#: A watchdog of a test, in seconds.
SHORT_S = 0.9


@pytest.fixture
def anyio_backend() -> str:
    return "asyncio"


def supervised(manager: Notified, watchdog_s: float = 0.0) -> dict[str, str]:
    told = {"NOTIFY_SOCKET": manager.address}
    return told | ({"WATCHDOG_USEC": str(int(watchdog_s * 1e6))} if watchdog_s else {})


# --- the protocol --------------------------------------------------------------------------------


def test_nobody_is_told_anything_where_nobody_listens() -> None:
    one = Supervisor({})
    assert not one.there and one.watchdog_s is None
    one.ready(), one.alive(), one.status("x"), one.stopping()
    gone = Supervisor({"NOTIFY_SOCKET": "/nowhere/notify"})
    gone.ready()  # a manager that is gone is no reason to stop


def test_a_name_in_the_abstract_namespace_is_found() -> None:
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as listening:
        listening.bind(f"\0weighd-test-{os.getpid()}")
        listening.settimeout(5)
        Supervisor({"NOTIFY_SOCKET": f"@weighd-test-{os.getpid()}"}).ready()
        assert listening.recv(100) == b"READY=1"


def test_a_watchdog_counts_only_for_the_process_that_it_was_set_for() -> None:
    assert Supervisor({"WATCHDOG_USEC": "30000000"}).watchdog_s == 30
    assert Supervisor({"WATCHDOG_USEC": "5", "WATCHDOG_PID": str(os.getpid())}).watchdog_s
    for none in ({"WATCHDOG_USEC": "5", "WATCHDOG_PID": "1"}, {"WATCHDOG_USEC": "soon"}):
        assert Supervisor(none).watchdog_s is None


def test_what_it_was_told_is_not_handed_down_to_what_it_starts(tmp_path: Path) -> None:
    given = {"NOTIFY_SOCKET": "/x", "WATCHDOG_USEC": "1", "LISTEN_FDS": "0", "HOME": "/"}
    Supervisor(given)
    assert given == {"HOME": "/"}


def test_a_status_is_one_line_and_told_once(tmp_path: Path) -> None:
    with Notified(tmp_path) as manager:
        one = Supervisor(supervised(manager))
        for text in ("Pours.\nREADY=1", "Pours.\nREADY=1", "Rests."):
            one.status(text)
        manager.hears("STATUS=Rests.")
        assert manager.lines() == ["STATUS=Pours. READY=1", "STATUS=Rests."]


# --- what has to go on ---------------------------------------------------------------------------


def asks(rounds: Rounds) -> None:
    """A driver as it should be."""
    while not rounds.is_set():
        rounds.wait(0.05)


def rests(rounds: Rounds) -> None:
    """One that has no more to say, and waits for the end."""
    rounds.wait()


def ends(rounds: Rounds) -> None:
    """One that came to an end by itself, which the daemon tells elsewhere."""
    rounds.over = True


def hangs(rounds: Rounds) -> None:
    """One that hangs in its device."""
    rounds.is_set()
    time.sleep(4 * SHORT_S)


def nothing(_runner: Runner) -> None:
    """Everything goes on."""


def the_writer(runner: Runner) -> None:
    """A disk that does not answer."""
    runner._writer.submit(time.sleep, 3 * SHORT_S)


def the_line(runner: Runner) -> None:
    """One input that never comes to its end."""

    async def never(*_: object) -> None:
        await asyncio.Event().wait()

    runner._take = never  # type: ignore[method-assign]


def the_loop(_runner: Runner) -> None:
    """Something that blocks the whole loop."""
    time.sleep(2 * SHORT_S)


async def watched(
    manager: Notified,
    hang: Callable[[Runner], None] = nothing,
    drivers: Sequence[Callable[[Rounds], None]] = (asks, rests, ends),
) -> tuple[float, float]:
    """Let a station run, hang something, and let it run on; when that was, and when it ended."""
    over = asyncio.Event()
    scales = {one.__name__: Rounds() for one in drivers}
    for one in drivers:
        threading.Thread(target=one, args=(scales[one.__name__],), daemon=True).start()
    async with Kitchen() as here:
        watch = Watch(Supervisor(supervised(manager, SHORT_S)))
        looking = asyncio.create_task(watch.run(here.runner, scales, over, lambda: False))
        await asyncio.sleep(0.4)
        hung = time.monotonic()
        hang(here.runner)
        await asyncio.sleep(1.7 * SHORT_S)
        ended = time.monotonic()
        over.set()
        await looking
    for rounds in scales.values():
        rounds.set()
    return hung, ended


@pytest.mark.anyio
async def test_one_that_goes_on_is_told_alive_and_one_that_hangs_is_not(tmp_path: Path) -> None:
    """Each hangs at another place; all four run side by side."""
    cases: dict[str, tuple[Any, ...]] = {
        "": (),
        "writing the record": (the_writer,),
        "taking inputs": (the_line,),
        "reading scale hangs": (nothing, (hangs,)),
    }
    with contextlib.ExitStack() as open_:
        managers = {}
        for number, name in enumerate(cases):
            (tmp_path / str(number)).mkdir()
            managers[name] = open_.enter_context(Notified(tmp_path / str(number)))
        times = await asyncio.gather(*(watched(managers[one], *cases[one]) for one in cases))
    for (hung, ended), (name, manager) in zip(times, managers.items(), strict=True):
        alive = [at for at, one in manager.said if one == "WATCHDOG=1"]
        assert alive[0] < hung, name
        assert manager.lines()[-2:] == ["STOPPING=1", "STATUS=Stopping."]
        if name:
            assert alive[-1] < hung + SHORT_S, name
            assert f"STATUS=Does not go on: {name}." in manager.lines("STATUS")
        else:
            assert max(b - a for a, b in pairwise([*alive, ended])) < SHORT_S
            assert not manager.lines("STATUS=Does not go on")


@pytest.mark.anyio
async def test_a_loop_that_is_blocked_tells_nothing(tmp_path: Path) -> None:
    with Notified(tmp_path) as manager:
        hung, _ = await watched(manager, the_loop)
    blocked = hung + 0.1, hung + 2 * SHORT_S - 0.1
    assert not [one for at, one in manager.said if blocked[0] < at < blocked[1]]
    assert manager.said[0][0] < hung


# --- the daemon ----------------------------------------------------------------------------------


def test_the_daemon_says_when_it_is_ready_how_it_stands_and_that_it_ends(tmp_path: Path) -> None:
    port = free_port()
    with PtyScale(tmp_path / "scale", QUICK), Notified(tmp_path) as manager:
        config = kitchen(tmp_path)
        log = (tmp_path / "log").open("w")
        daemon = start(
            ["serve", "--config", str(config), "--port", str(port)],
            stdout=log.fileno(), stderr=log.fileno(),
            env={**os.environ, **supervised(manager, 3.0)},
        )  # fmt: skip
        try:
            manager.hears("READY=1")
            with urllib.request.urlopen(f"http://127.0.0.1:{port}/api/health", timeout=10) as said:
                assert json.load(said)["station"] == "kitchen"
            manager.hears("STATUS=No batch is being weighed. Scales: bench live.")
            manager.hears("WATCHDOG=1")
            assert manager.lines()[:2] == ["FDSTORE=1", "FDNAME=page"]
            daemon.terminate()
            assert daemon.wait(20) == 0
            assert manager.lines()[-2:] == ["STOPPING=1", "STATUS=Stopping."]
        finally:
            if daemon.poll() is None:
                daemon.kill()
        log.close()
        said = (tmp_path / "log").read_text().splitlines()
        assert said and all(isinstance(json.loads(one), dict) for one in said), said


#: Hands sockets over as a service manager does: file descriptors from 3 on, told to this very
#: process, with their names.
HAND_OVER = """
import fcntl, os, sys
names, numbers = sys.argv[1], sys.argv[2].split(",")
numbers = [fcntl.fcntl(int(one), fcntl.F_DUPFD, 20) for one in numbers]  # out of the way
for place, one in enumerate(numbers):
    os.dup2(one, 3 + place)
os.environ |= {"LISTEN_PID": str(os.getpid()), "LISTEN_FDS": str(len(numbers))}
os.environ["LISTEN_FDNAMES"] = names
os.execv(sys.executable, [sys.executable, "-m", "weighd", *sys.argv[3:]])
"""


def test_whoever_asks_at_either_door_while_it_is_killed_and_started_again_is_answered(
    tmp_path: Path,
) -> None:
    with Notified(tmp_path) as manager:
        config, tls = kitchen(tmp_path), tls_files(tmp_path)
        port, there = free_port(), free_port()
        with config.open("a") as more:
            more.write(
                f'\n[elsewhere]\nhost = "127.0.0.2"\nport = {there}\n'
                f'names = ["127.0.0.2"]\n{tls.toml}\n'
            )
        serve = ["serve", "--config", str(config), "--port", str(port)]
        env = {**os.environ, **supervised(manager)}
        first = start(serve, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, env=env)
        manager.hears("READY=1")
        first.send_signal(signal.SIGKILL)
        first.wait(10)
        assert manager.lines("FDNAME=") == ["FDNAME=page", "FDNAME=elsewhere"]
        trusted = ssl.create_default_context(cafile=str(tls.certificate))
        with (
            socket.create_connection(("127.0.0.1", port), 10) as asking,
            socket.create_connection(("127.0.0.2", there), 10) as tablet,
        ):
            asking.sendall(
                b"GET /api/health HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n\r\n"
            )
            kept = manager.kept[:2]
            numbers = ",".join(map(str, kept))
            again = [sys.executable, "-c", HAND_OVER, "page:elsewhere", numbers, *serve]
            second = subprocess.Popen(again, pass_fds=kept, stdout=subprocess.DEVNULL, env=env)
            try:
                asking.settimeout(30)
                assert asking.recv(100).startswith(b"HTTP/1.1 200")
                tablet.settimeout(30)
                with trusted.wrap_socket(tablet, server_hostname="127.0.0.2") as secret:
                    host = f"Host: 127.0.0.2:{there}\r\nConnection: close\r\n\r\n"
                    secret.sendall(b"GET /api/health HTTP/1.1\r\n" + host.encode())
                    assert secret.recv(100).startswith(b"HTTP/1.1 200")
            finally:
                second.terminate()
                assert second.wait(20) == 0


def test_a_socket_that_listens_elsewhere_is_closed_on_both_sides(tmp_path: Path) -> None:
    with Notified(tmp_path) as manager, socket.create_server(("127.0.0.1", 0)) as listening:
        port = listening.getsockname()[1]
        for wanted, fits in ((port, True), (port + 1, False), (0, False)):
            one = Supervisor(supervised(manager))
            one._handed = [(PAGE, listening.dup())]
            got = one.handed(PAGE, "127.0.0.1", wanted)
            assert (got is not None) is fits
            if got is not None:
                got.close()
            one.keep(PAGE, listening, "127.0.0.1", wanted)
        until(lambda: manager.lines("FDSTOREREMOVE") == ["FDSTOREREMOVE=1"] * 2)
        assert manager.lines("FDSTORE=1") == [], "what it handed over it has"
        one.keep(PAGE, listening, "127.0.0.1", port)
        one.status("all is told")
        until(lambda: manager.lines("STATUS"))
        assert manager.lines("FDSTORE=1") == ["FDSTORE=1"], "only what will be known again"


def test_a_door_that_was_shut_meanwhile_listens_nowhere_any_more(tmp_path: Path) -> None:
    with Notified(tmp_path) as manager, socket.create_server(("127.0.0.1", 0)) as page:
        door = socket.create_server(("127.0.0.1", 0))
        at = door.getsockname()
        one = Supervisor(supervised(manager))
        one._handed = [(PAGE, page.dup()), (ELSEWHERE, door)]
        assert second_door(Config(), one) is None
        with pytest.raises(ConnectionRefusedError):
            socket.create_connection(at, 5)
        until(lambda: manager.lines("FDNAME=") == ["FDNAME=elsewhere"])
        assert manager.lines("FDSTOREREMOVE") == ["FDSTOREREMOVE=1"]
        kept = one.handed(PAGE, *page.getsockname())
        assert kept is not None, "the page's own is still there"
        kept.close()


def test_a_second_one_beside_it_is_refused_in_words(tmp_path: Path) -> None:
    with PtyScale(tmp_path / "scale", QUICK) as scale, Served(kitchen(tmp_path)) as daemon:
        port = daemon.address.rsplit(":", 1)[1]
        cook = Cook(daemon, scale)
        cook.start()
        second = start(
            ["serve", "--config", str(daemon.config), "--port", port],
            stdout=subprocess.PIPE, stderr=(log := (tmp_path / "second").open("w")).fileno(),
        )  # fmt: skip
        assert second.wait(20) == 5
        log.close()
        assert "another weighd may be running" in (tmp_path / "second").read_text()
        assert daemon.state()["batch"]["status"] == "open"


@pytest.mark.anyio
async def test_how_a_station_stands_names_nobody() -> None:
    async with Kitchen() as here:
        assert (await here.start(operator="Ada Lovelace")).status_code == 201
        here.station.store_error = JournalError("store-full", "The disk is full.")
        said = standing(here.station)
    assert "Ada" not in said
    assert said == (
        "NOTHING CAN BE RECORDED: The disk is full. kitchen-0001 is being weighed, 0 of 3 accepted."
        " Scales: bench live."
    )
