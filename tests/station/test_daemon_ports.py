"""The daemon and its ports: taken by another, set wrongly, not allowed, slow to open."""

from __future__ import annotations

import asyncio
import os
import pwd
import threading
import time
import tty
from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from tests.drivers.fake_port import seen
from tests.forked import run
from tests.pty_scale import PtyScale
from tests.station.daemon import QUICK, VESSEL_G, Cook, Served, kitchen, until
from weighd.config import load
from weighd.main.daemon import JOIN_S, Daemon
from weighd.main.plugging import Plugged
from weighd.station.ports import Deliver, Found, Lost, Now
from weighd.station.scale import Setup
from weighd.storage.shelf import FormulaShelf
from weighd_drivers.serial_port import DRIVER, SerialSource
from weighd_drivers.serial_settings import SerialSettings


def bench(state: dict[str, Any]) -> dict[str, Any]:
    scale: dict[str, Any] = state["scales"]["bench"]
    return scale


def test_the_second_daemon_on_a_port_says_who_has_it_and_takes_over(tmp_path: Path) -> None:
    folders = tmp_path / "first", tmp_path / "second"
    for one in folders:
        one.mkdir()
    with (
        PtyScale(folders[0] / "scale", QUICK) as scale,
        Served(kitchen(folders[0])) as first,
        Served(kitchen(folders[1])) as second,
    ):
        first.wait(lambda s: bench(s)["link"] == "live")
        (folders[1] / "scale").symlink_to(scale.link.readlink())
        told = f"Another weighd (process {first.pid}) is using {folders[1] / 'scale'}"
        seen = second.wait(lambda s: told in bench(s)["why"])
        assert (bench(seen)["link"], bench(seen)["reading"]) == ("lost", None)
        assert second.get("/api/health")["status"] == "degraded"
        learning = run("scales", "--learn", scale.link, "--unguided", "--listen", "1")
        assert learning.returncode == 3
        assert f"Another weighd (process {first.pid}) is using" in learning.stderr
        before = bench(first.state())["readings"]
        assert first.stop() == 0
        assert before > 0, "whoever looks at a port that is taken takes nothing from its owner"
        second.wait(lambda s: bench(s)["link"] == "live")


class Line:
    """A tty by hand."""

    def __init__(self, link: Path) -> None:
        self.master, self._slave = os.openpty()
        tty.setraw(self._slave)
        link.symlink_to(os.ttyname(self._slave))

    def send(self, data: bytes) -> None:
        os.write(self.master, data)

    def close(self) -> None:
        os.close(self.master)
        os.close(self._slave)


@pytest.fixture
def line(tmp_path: Path) -> Iterator[Line]:
    it = Line(tmp_path / "scale")
    yield it
    it.close()


def test_a_wrong_baud_rate_is_said_to_be_one_and_a_right_one_heals(
    line: Line, tmp_path: Path
) -> None:
    """A scale at 9600 baud, read at 2400: few bytes, in pieces of one or two, as a UART gives."""
    wrong = seen(b"ST,+    312.4 g\r\n", (9600, 8, "N"), (2400, 8, "N"))
    told: dict[str, Any] = {}
    with Served(kitchen(tmp_path, "max_g = 6000\nbaud = 2400")) as daemon:
        end = time.monotonic() + 12
        while "2400 baud" not in told.get("why", ""):
            assert time.monotonic() < end, told
            for byte in wrong:
                line.send(bytes([byte]))
                time.sleep(0.02)
            told = bench(daemon.state())
            assert told["reading"] is None
        assert told["link"] == "lost"
        assert "no text" in told["why"]
        assert "weighd scales --learn" in told["why"]

        def right() -> bool:
            line.send(b"ST,+    312.4 g\r\n")
            return bool(bench(daemon.state())["reading"])

        until(right, 10)
        assert bench(daemon.state())["reading"]["grams"] == "312.4"


@dataclass
class Pouring:
    """A load on a scale that prints it in the unit that it was switched to, twenty a second."""

    line: Line
    grams: Decimal = Decimal(0)
    unit: str = "g"
    rate: Decimal = Decimal(0)
    lb = Decimal("453.59237")  # exact: NIST Handbook 44, Appendix C, from memory

    def run(self, stop: threading.Event) -> None:
        """Print and pour until stopped."""
        while not stop.wait(0.05):
            size, step = {"g": (Decimal(1), "0.1"), "lb": (self.lb, "0.0001")}[self.unit]
            shown = (self.grams / size).quantize(Decimal(step))
            status = "US" if self.rate else "ST"
            self.line.send(f"{status},+{shown:>9} {self.unit}\r\n".encode())
            self.grams += self.rate * Decimal("0.05")


def test_switched_to_another_unit_in_mid_pour_it_is_converted_exactly(
    line: Line, tmp_path: Path
) -> None:
    stop, load_ = threading.Event(), Pouring(line)
    printing = threading.Thread(target=load_.run, args=(stop,), daemon=True)
    printing.start()
    try:
        with Served(kitchen(tmp_path)) as daemon:
            _switched(Cook(daemon, SimpleNamespace(bench=None)), daemon, load_)  # type: ignore[arg-type]
    finally:
        stop.set()
        printing.join(2)


def _switched(cook: Cook, daemon: Served, load_: Pouring) -> None:
    cook.start()
    load_.grams = Decimal(str(VESSEL_G))
    daemon.wait(lambda s: "tare" in s["live"]["can"] and s["live"]["gross_g"] == str(VESSEL_G))
    cook.do("tare", addition=1)
    load_.rate = Decimal(150)
    daemon.wait(lambda s: Decimal(s["live"]["net_g"] or 0) > 100)
    load_.unit = "lb"
    nets = []
    while load_.grams < Decimal("812.4"):
        live = daemon.state()["live"]
        assert live["phase"] in {"pouring", "settling", "held"}
        nets.append(Decimal(live["net_g"] or nets[-1]))
        time.sleep(0.05)
    # Pounds taken for grams, or a tare in one and a gross in the other, would fall back.
    assert nets == sorted(nets)
    load_.rate, load_.grams = Decimal(0), Decimal("812.4")
    cook.judged()
    cook.do("accept", addition=1)
    body = cook.record()["entries"][-1]["body"]
    shown = (Decimal("812.4") / load_.lb).quantize(Decimal("0.0001"))
    assert Decimal(body["net_g"]) == shown * load_.lb - Decimal("312.4")
    raw = {bytes.fromhex(one["raw"]).split()[-1] for one in body["evidence"]["gross"]}
    assert raw == {b"lb"}, "evidence of one unit only"
    assert [one["code"] for one in daemon.state()["station"]["notices"]] == ["unit-changed"]


# --- a port that may not be opened ---------------------------------------------------------------


def refused(port: Path) -> str:
    """What the source of a port says to somebody who may not open it."""
    reading, writing = os.pipe()
    child = os.fork()
    if child == 0:  # a process of somebody without rights: nothing but this happens in it
        try:
            if os.geteuid() == 0:
                nobody = pwd.getpwnam("nobody")
                os.setgroups([])
                os.setgid(nobody.pw_gid)
                os.setuid(nobody.pw_uid)
            stop = threading.Event()

            def heard(signal: object) -> None:
                os.write(writing, getattr(signal, "why", "it was opened").encode())
                stop.set()

            SerialSource(SerialSettings(port=str(port))).run(heard, stop, time.monotonic)
        finally:
            os._exit(0)
    os.close(writing)
    os.waitpid(child, 0)
    with os.fdopen(reading) as said:
        return said.read()


@pytest.mark.parametrize(
    ("mode", "group", "says"),
    [
        (0o060, "dialout", ["add the user", "group dialout", "sudo adduser USER dialout"]),
        (0o000, "root", ["70-weighd-serial.rules", 'GROUP="dialout", MODE="0660"']),
    ],
)
def test_a_port_that_may_not_be_opened_is_told_with_the_group_or_the_rule(
    line: Line, tmp_path: Path, mode: int, group: str, says: list[str]
) -> None:
    port = (tmp_path / "scale").readlink()
    if os.geteuid() == 0:
        import grp

        os.chown(port, 0, grp.getgrnam(group).gr_gid)
    elif mode:
        pytest.skip("only root can give a port to a group: that is not tried here")
    port.chmod(mode)
    why = refused(port)
    assert why.startswith(f"No permission for {port}:")
    for one in says:
        assert one in why


# --- a port that is slow to open ------------------------------------------------------------------


class Stuck:
    """A device whose opening blocks, whatever is asked of it meanwhile."""

    def __init__(self, free: threading.Event) -> None:
        self._free = free

    def run(self, deliver: Deliver, stop: threading.Event, now: Now) -> None:
        """Open it, which takes long."""
        self._free.wait(60)
        deliver(Found(now(), "at last"))
        deliver(Lost(now(), "and gone"))


def test_ports_that_do_not_open_hold_up_neither_the_start_nor_the_stop(tmp_path: Path) -> None:
    config, free = load(kitchen(tmp_path)), threading.Event()
    stuck = [
        Plugged(Setup(f"s{n}", "serial", DRIVER.decoder({"port": "x"})), Stuck(free), {}, f"{n}")
        for n in range(8)
    ]
    daemon = Daemon(config, stuck, FormulaShelf(tmp_path / "formulas"))

    async def life() -> tuple[float, float]:
        began, up, over = time.monotonic(), asyncio.Event(), asyncio.Event()
        running = asyncio.create_task(daemon.run(over, up.set))
        await up.wait()
        started = time.monotonic()
        over.set()
        await running
        return started - began, time.monotonic() - started

    start_s, stop_s = asyncio.run(life())
    free.set()
    assert start_s < JOIN_S
    assert stop_s < 3 * JOIN_S, "they are waited for together, not in turn"


def test_a_station_with_sixty_four_scales_starts_and_names_each_that_is_missing(
    tmp_path: Path,
) -> None:
    config = kitchen(tmp_path)
    more = "".join(
        f'[scales.s{n:02d}]\nport = "{tmp_path}/s{n:02d}"\nmax_g = 6000\ninterval_g = "0.1"\n'
        for n in range(63)
    )
    config.write_text(config.read_text() + more)
    with (
        PtyScale(tmp_path / "scale", QUICK),
        PtyScale(tmp_path / "s62", QUICK),
        Served(config) as daemon,
    ):
        seen = daemon.wait(lambda s: [it["link"] for it in s["scales"].values()].count("lost") > 61)
        assert len(seen["scales"]) == 64
        live = daemon.wait(lambda s: bench(s)["link"] == s["scales"]["s62"]["link"] == "live")
        missing = [it for it in live["scales"].values() if it["link"] == "lost"]
        assert all(f"no port {tmp_path}/{it['name']}" in it["why"] for it in missing)
        began = time.monotonic()
        assert daemon.stop() == 0
        assert time.monotonic() - began < 5
