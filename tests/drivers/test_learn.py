"""A scale nobody described: rate, parity, request and shape are found, and said in plain words."""

from __future__ import annotations

import contextlib
import os
import select
import threading
import time
import tomllib
import tty
from collections.abc import Iterator
from decimal import Decimal
from pathlib import Path

import pytest
import serial
from typer.testing import CliRunner

from tests.drivers.fake_port import FakePort, seen
from tests.drivers.wire_world import PRINTS, Load, Print
from weighd.cli.app import app
from weighd.domain.errors import ScaleError
from weighd.domain.mass import Unit
from weighd_drivers.finder import looks_like_rubbish
from weighd_drivers.learn import BAUDS, REQUESTS, Learner, Port, Stage, Way, conclude, set_line
from weighd_drivers.lines import LineDecoder
from weighd_drivers.serial_port import open_to_learn
from weighd_drivers.serial_settings import SerialSettings, request_bytes
from weighd_drivers.shape_text import load

BY_NAME = {one.name: one for one in PRINTS}


def prints(one: Print, n: int) -> bytes:
    """A load that rests, grows and rests: as many reports as are wanted."""
    step = Decimal(1).scaleb(-one.decimals)
    grown = max(0, n % 40 - 8)
    return one.report(Load(step * 137 * grown, grown in {0, 31}))


def scale(name: str, line: tuple[int, int, str], request: bytes = b"") -> FakePort:
    return FakePort(lambda n: prints(BY_NAME[name], n), line, request)


def found(port: FakePort) -> tuple[Way, Learner, list[str]]:
    said: list[str] = []
    learner = Learner(port, port.now, said.append)
    way, finding = learner.search()
    assert finding.shape is not None, finding.words
    return way, learner, said


# --- the fake is held to the real thing ---


@pytest.fixture
def pair() -> Iterator[tuple[int, str]]:
    master, slave = os.openpty()
    tty.setraw(master)
    yield master, os.ttyname(slave)
    os.close(master)
    os.close(slave)


@pytest.mark.parametrize("kind", ["real", "fake"])
def test_both_ports_keep_the_same_contract(kind: str, pair: tuple[int, str]) -> None:
    with contextlib.ExitStack() as stack:
        port: Port
        if kind == "real":
            port = stack.enter_context(serial.Serial(pair[1], 9600, timeout=0.05))
        else:
            port = FakePort(lambda _: b"abcdef", request=b"?")
        assert port.read(1) == b""
        assert port.in_waiting == 0
        assert port.write(b"?") == 1
        if kind == "real":
            assert os.read(pair[0], 9) == b"?"
            os.write(pair[0], b"abcdef")
            time.sleep(0.05)
        assert port.in_waiting == 6
        assert port.read(4) == b"abcd"
        assert port.read(4) == b"ef"
        port.write(b"?")
        port.reset_input_buffer()
        assert port.in_waiting == 0
        taken = [
            set_line(port, Way(baud, bits, parity))
            for baud in BAUDS
            for bits, parity in ((8, "none"), (7, "even"), (7, "odd"))
        ]
        # A pseudo-terminal has no parity: where nothing else changes, it refuses it.
        assert all(taken) or (kind == "real" and all(taken[::3]))
        assert port.read(1) == b""


@pytest.mark.parametrize("waits_s", [0, 0.2])
def test_an_adapter_that_is_pulled_out_meanwhile_is_told_as_such(waits_s: float) -> None:
    """Before it is listened to, setting the line fails; while it is, reading does."""
    master, slave = os.openpty()
    tty.setraw(master)

    def listen() -> None:
        with open_to_learn(os.ttyname(slave)) as line:
            os.close(slave)
            pulled = threading.Timer(waits_s, os.close, [master])
            pulled.start()
            pulled.join(None if waits_s == 0 else 0)
            Learner(line, time.monotonic, lambda _: None).listen(Way(2400), 5)

    with pytest.raises(ScaleError, match="was cut"):
        listen()


def test_the_simulated_line_is_right_where_both_ends_agree_and_known_elsewhere() -> None:
    text = b"ST,+  123.4 g\r\n"
    for line in ((9600, 8, "N"), (2400, 7, "E"), (1200, 7, "O"), (19200, 8, "E")):
        assert seen(text, line, line) == text
    # Seven bits with even parity are eight without: the eighth is the parity (ISO 1155).
    eight = seen(b"1", (9600, 7, "E"), (9600, 8, "N"))
    assert eight == bytes([0x31 | 0x80])
    # U is 01010101: at half the rate every second bit is seen, and no stop bit where one belongs.
    assert seen(b"U", (9600, 8, "N"), (9600, 8, "N")) == b"U"
    assert seen(text, (9600, 8, "N"), (2400, 8, "N")) != text


# --- rate and parity ---


@pytest.mark.parametrize("baud", BAUDS)
@pytest.mark.parametrize("frame", [(8, "N"), (7, "E"), (7, "O")])
def test_any_usual_rate_and_parity_is_found(baud: int, frame: tuple[int, str]) -> None:
    port = scale("word, plus", (baud, *frame))
    way, learner, said = found(port)
    assert way.baud == baud
    learned = conclude(way, [Stage(loaded=False, data=learner.listen(way, 8.0))])
    shape = learned.finding.shape
    assert shape is not None
    read = LineDecoder(shape).feed(0, learner.listen(way, 4.0))
    weights = {one.grams for one in read}
    assert len(weights) > 10
    assert weights <= {Decimal("13.7") * n for n in range(40)}
    assert bool(said) == (baud != 9600)


@pytest.mark.parametrize("baud", [one for one in BAUDS if one != 9600])
def test_a_wrong_rate_is_said_to_be_one(baud: int) -> None:
    data = b"".join(
        seen(prints(BY_NAME["word, plus"], n), (baud, 8, "N"), (9600, 8, "N")) for n in range(40)
    )
    assert looks_like_rubbish(data)


# --- requests ---


@pytest.mark.parametrize("request_text", REQUESTS)
def test_a_scale_that_must_be_asked_is_asked_in_the_usual_ways(request_text: str) -> None:
    wanted = request_bytes(request_text)
    port = scale("word", (9600, 8, "N"), wanted)
    way, _, said = found(port)
    assert request_bytes(way.request) == wanted
    assert "asking" in said[0]


def test_no_request_could_zero_or_tare_a_scale() -> None:
    for one in REQUESTS:
        assert not set(request_bytes(one)) & set(b"ZTzt"), one
        assert SerialSettings(port="/dev/x", request=one).request == one


def test_a_scale_asked_at_another_rate_is_found_too() -> None:
    way, _, _ = found(scale("word", (2400, 8, "N"), b"P\r\n"))
    assert (way.baud, way.request) == (2400, r"P\r\n")


def test_a_port_that_never_says_anything_is_told_as_such() -> None:
    port = FakePort(lambda _: b"", request=b"\x00never")
    way, finding = Learner(port, port.now, lambda _: None).search()
    assert finding.shape is None
    assert not finding.heard
    assert "is it on" in finding.words[0]
    assert len({tuple(port.written)}) == 1
    assert way == Way()


# --- put something on ---


def stages(one: Print, empty: str, loaded: str) -> list[Stage]:
    def rest(shown: str) -> bytes:
        return b"".join(one.report(Load(Decimal(shown), stable=True)) for _ in range(15))

    return [Stage(False, rest(empty)), Stage(True, rest(loaded)), Stage(False, rest(empty))]


def test_a_known_load_tells_the_unit_of_a_display_that_shows_none() -> None:
    one = BY_NAME["digits in kilograms"]
    learned = conclude(Way(), stages(one, "0.000", "0.500"), load_g=Decimal(500))
    assert learned.sure
    assert learned.finding.shape is not None
    assert learned.finding.shape.unit is Unit.KG


def test_a_known_load_that_reads_as_something_else_is_not_hidden() -> None:
    learned = conclude(Way(), stages(BY_NAME["word"], "0.0", "250.0"), load_g=Decimal(500))
    assert not learned.sure
    assert "500 g put on as 250 g" in learned.words[0]


def test_a_number_that_does_not_grow_is_not_trusted() -> None:
    learned = conclude(Way(), stages(BY_NAME["word"], "10.0", "10.0"))
    assert not learned.sure
    assert "did not grow" in learned.words[0]


# --- the command ---


@contextlib.contextmanager
def on_a_tty(one: Print, request: bytes = b"") -> Iterator[str]:
    """A scale that prints, by itself or when asked, to a real pseudo-terminal."""
    master, slave = os.openpty()
    tty.setraw(master)
    stop = threading.Event()

    def run() -> None:
        n = 0
        while not stop.is_set():
            if not request:
                time.sleep(0.02)
            elif not select.select([master], [], [], 0.1)[0] or request not in os.read(master, 64):
                continue
            os.write(master, prints(one, n))
            n += 1

    thread = threading.Thread(target=run, daemon=True)
    thread.start()
    yield os.ttyname(slave)
    stop.set()
    thread.join(2)
    os.close(master)
    os.close(slave)


@pytest.mark.parametrize(("name", "request_"), [("xor in hex", b""), ("letter behind", b"W\r\n")])
def test_the_command_writes_a_shape_and_says_how_to_use_it(
    tmp_path: Path, name: str, request_: bytes
) -> None:
    one = BY_NAME[name]
    out = tmp_path / "my scale.toml"
    with on_a_tty(one, request_) as port:
        args = ["scales", "--learn", port, "--out", str(out), "--listen", "3", "--unguided"]
        result = CliRunner().invoke(app, args)
    assert result.exit_code == 0, result.output
    shape = load(out)
    assert shape.name == "my-scale"
    stream = b"".join(prints(one, n) for n in range(40))
    assert len(LineDecoder(shape, joined=True).feed(0, stream)) == 40
    given = result.output.split("To use it:")[1]
    table = tomllib.loads("\n".join(line.strip() for line in given.splitlines()))
    settings = {key: value for key, value in table["scales"]["bench"].items() if key != "driver"}
    checked = SerialSettings.model_validate(settings)
    assert request_bytes(checked.request) == request_


def test_the_command_asks_for_a_load_and_overwrites_nothing(tmp_path: Path) -> None:
    out = tmp_path / "found.toml"
    with on_a_tty(BY_NAME["word"]) as port:
        args = ["scales", "--learn", port, "--out", str(out), "--listen", "1"]
        result = CliRunner().invoke(app, args, input="\n\n\n")
        assert "Put something on" in result.output
        assert out.exists()
        before = out.read_bytes()
        again = CliRunner().invoke(app, args, input="\n\n\n")
    assert again.exit_code != 0
    assert out.read_bytes() == before
