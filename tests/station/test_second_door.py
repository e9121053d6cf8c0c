"""The door for other devices as they meet it: real sockets, TLS, certificates, slow connections."""

from __future__ import annotations

import asyncio
import contextlib
import json
import re
import socket
import ssl
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import httpx
import pytest
import uvicorn
from websockets.exceptions import ConnectionClosed, InvalidStatus
from websockets.sync.client import ClientConnection, connect

from tests.forked import run
from tests.station.daemon import Served, kitchen, until
from tests.station.tls_files import TlsFiles, tls_files
from weighd import config as configuration
from weighd.clock import SystemClock
from weighd.domain.devices import Device, May
from weighd.domain.errors import ConfigError
from weighd.main import patient
from weighd.main.second_door import SecondDoor
from weighd.main.supervisor import Supervisor
from weighd.main.tls import Certificate
from weighd.main.web_server import web_server
from weighd.storage.journal import open_journal

TOKEN = "canary-metrics-3f9a1c77d2"


@dataclass
class Station:
    """A station with a second door on an address that is not its own (RFC 1122: all of 127/8 is
    this computer's, and weighd takes only the names it was given)."""

    served: Served
    file: Path
    tls: TlsFiles
    port: int

    @property
    def url(self) -> str:
        return f"https://127.0.0.2:{self.port}"

    def trust(self) -> ssl.SSLContext:
        return ssl.create_default_context(cafile=str(self.tls.certificate))

    def device(self) -> httpx.Client:
        return httpx.Client(base_url=self.url, verify=self.trust(), timeout=12)

    def listen(self, device: httpx.Client) -> ClientConnection:
        cookie = "; ".join(f"{one.name}={one.value}" for one in device.cookies.jar)
        headers = {"Cookie": cookie, "Origin": self.url}
        where = f"wss://127.0.0.2:{self.port}/api/live"
        return connect(where, ssl=self.trust(), additional_headers=headers, open_timeout=10)


@pytest.fixture(scope="module")
def station(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Station]:
    folder = tmp_path_factory.mktemp("station")
    tls = tls_files(folder)
    (folder / "token").write_text(f"{TOKEN}\n")
    with socket.socket() as probe:
        probe.bind(("127.0.0.2", 0))
        port = probe.getsockname()[1]
    file = kitchen(folder)
    file.write_text(
        f'{file.read_text()}\n[elsewhere]\nhost = "127.0.0.2"\nport = {port}\n'
        f'names = ["127.0.0.2", "bench.example"]\nmetrics_token_file = "token"\n{tls.toml}\n'
        '[log]\nlevel = "debug"\nformat = "json"\n'
    )
    with Served(file) as served:
        yield Station(served, file, tls, port)


def test_a_tablet_comes_in_by_a_code_and_goes_when_it_is_forgotten(station: Station) -> None:
    assert f"Other devices open {station.url}/" in station.served.log()
    with station.device() as tablet:
        assert tablet.get("/api/health").json() in ({"status": "ok"}, {"status": "degraded"})
        assert tablet.get("/").status_code == 200
        assert tablet.get("/api/state").status_code == 401
        with pytest.raises(InvalidStatus) as shut, station.listen(tablet):
            pass
        assert shut.value.response.status_code == 403
        at = ("--url", station.served.address, "--config", str(station.file))
        shown = run("pair", "tablet at the bench", *at)
        assert shown.returncode == 0, shown.stderr
        assert station.url in shown.stderr
        assert re.fullmatch(r"\d{4} \d{4}\n", shown.stdout)
        code = shown.stdout.strip()
        answer = tablet.post("/api/device/pair", json={"code": code})
        assert answer.status_code == 201
        assert answer.headers["set-cookie"].startswith("__Host-weighd-device-kitchen=")
        assert "; secure" in answer.headers["set-cookie"].lower()
        assert tablet.get("/api/state").status_code == 200
        listed = run("devices", "--json", "--config", str(station.file))
        [one] = json.loads(listed.stdout)
        assert (one["name"], one["may"]) == ("tablet at the bench", "work")
        assert "tablet at the bench: works;" in run("devices", "--config", str(station.file)).stdout
        with station.listen(tablet) as live:
            assert json.loads(live.recv(timeout=5))["kind"] == "snapshot"
            gone = run("devices", "forget", "tablet at the bench", *at)
            assert gone.stdout == "Forgotten: tablet at the bench.\n"
            with pytest.raises(ConnectionClosed) as closed:
                drain(live)
            assert closed.value.rcvd is not None
            assert closed.value.rcvd.code == 1008
        assert tablet.get("/api/state").status_code == 401
    assert run("devices", "forget", "tablet", *at).returncode == 2


def drain(live: ClientConnection) -> None:
    """Take frames until there are no more; each has to come within seconds."""
    while True:
        live.recv(timeout=5)


def test_a_device_that_was_let_in_is_in_after_a_restart(station: Station) -> None:
    with station.device() as tablet:
        code = station.served.ask("POST", "/api/devices", {"name": "wall", "may": "look"}).json()
        tablet.post("/api/device/pair", json={"code": code["code"]})
        station.served.stop()
        listed = run("devices", "--config", str(station.file)).stdout
        assert "wall: only looks;" in listed
        station.served.begin()
        assert tablet.get("/api/state").status_code == 200


def test_whoever_may_write_the_file_forgets_a_device_while_no_station_runs(tmp_path: Path) -> None:
    file = kitchen(tmp_path)
    at = ("--config", str(file))
    assert "No device was let in" in run("devices", *at).stdout
    assert run("devices", "forget", "wall", *at).returncode == 2
    journal = open_journal(tmp_path / "data" / "weighd.db", "kitchen")
    day = "2026-11-25T09:00:00.000Z"
    journal.devices().put(Device("0a1b2c3d", "wall", May.LOOK, "f" * 64, day, day))
    journal.close()
    assert run("devices", *at).stdout == "wall: only looks; since 2026-11-25, seen 2026-11-25.\n"
    assert run("devices", "forget", "WALL", *at).stdout == "Forgotten: wall.\n"
    assert run("devices", "--json", *at).stdout == "[]\n"
    assert run("pair", "wall", *at).returncode == 2  # none runs that could show a code
    for wrong in ((), ("wall", "--all")):
        assert run("devices", "forget", *wrong, *at).returncode == 2
    for name in ("wall", "tablet"):
        journal = open_journal(tmp_path / "data" / "weighd.db", "kitchen")
        journal.devices().put(Device(name, name, May.LOOK, "f" * 64, day, day))
        journal.close()
    every = run("devices", "forget", "--all", *at).stdout
    assert sorted(every.splitlines()) == ["Forgotten: tablet.", "Forgotten: wall."]
    assert run("devices", "--json", *at).stdout == "[]\n"


def test_a_program_reads_the_metrics_by_its_token(station: Station) -> None:
    with station.device() as program:
        asked = program.get("/metrics", headers={"Authorization": f"Bearer {TOKEN}"})
        assert asked.status_code == 200
        assert "weighd_scale_link" in asked.text
        assert program.get("/metrics").status_code == 401


def test_nothing_is_said_without_tls_where_there_is_a_certificate(station: Station) -> None:
    with socket.create_connection(("127.0.0.2", station.port), 5) as line:
        line.sendall(b"GET /api/health HTTP/1.1\r\nHost: 127.0.0.2\r\n\r\n")
        assert b"HTTP" not in line.recv(1000)
    old = station.trust()
    old.maximum_version = ssl.TLSVersion.TLSv1_1
    with (
        contextlib.suppress(OSError),
        socket.create_connection(("127.0.0.2", station.port), 5) as line,
        old.wrap_socket(line, server_hostname="bench.example") as wrapped,
    ):
        pytest.fail(f"spoke {wrapped.version()}")


def test_the_stations_own_door_is_as_it_was(station: Station) -> None:
    assert station.served.address.startswith("http://127.0.0.1:")
    assert station.served.get("/api/device") == {"home": True, "device": None}
    with pytest.raises(httpx.TransportError), httpx.Client(timeout=2) as other:
        other.get(station.served.address.replace("127.0.0.1", "127.0.0.2"))


# --- certificates -----------------------------------------------------------------------------


def test_a_certificate_that_cannot_be_used_says_why(tmp_path: Path) -> None:
    good, other = tls_files(tmp_path), tls_files(tmp_path, name="other")
    with pytest.raises(ConfigError) as mismatch:
        Certificate(good.certificate, other.key)
    assert "not that of the certificate" in mismatch.value.message
    hidden = tls_files(tmp_path, password="secret", name="hidden")
    with pytest.raises(ConfigError) as password:
        Certificate(hidden.certificate, hidden.key)
    assert "has a password" in password.value.message
    rubbish = tmp_path / "rubbish.pem"
    rubbish.write_text("no certificate")
    with pytest.raises(ConfigError) as none:
        Certificate(rubbish, good.key)
    assert none.value.code == "bad-certificate"
    with pytest.raises(ConfigError) as missing:
        Certificate(tmp_path / "gone.pem", good.key)
    assert (missing.value.code, "gone.pem" in missing.value.where) == ("no-certificate", True)
    for mode in (0o604, 0o602, 0o620):
        good.key.chmod(mode)
        with pytest.raises(ConfigError) as readable:
            Certificate(good.certificate, good.key)
        assert readable.value.code == "key-readable"
        assert "chmod 600" in readable.value.remedy
    good.key.chmod(0o640)  # as Debian keeps keys for a group of its own
    Certificate(good.certificate, good.key)


def test_the_daemon_does_not_start_with_one(tmp_path: Path) -> None:
    file, tls = kitchen(tmp_path), tls_files(tmp_path)
    door = f'[elsewhere]\nhost = "127.0.0.2"\nport = 0\nnames = ["127.0.0.2"]\n{tls.toml}\n'
    tls.key.chmod(0o644)
    for text, says in (
        (door, "read the private key"),
        (door.replace(tls.toml, "metrics_token_file = 'none'\nallow_plain = true"), "token"),
        (door.replace(tls.toml, ""), "without TLS"),
        ('[http]\nhost = "0.0.0.0"\n', "reachable from other computers"),
    ):
        file.with_name("wrong.toml").write_text(f"{file.read_text()}\n{text}")
        done = run("serve", "--port", "0", "--config", str(file.with_name("wrong.toml")))
        assert (done.returncode, done.stdout) == (2, ""), done.stderr
        assert says in done.stderr
        assert "Traceback" not in done.stderr
    done = run("serve", "--port", "0", "--host", "0.0.0.0", "--config", str(file))
    assert (done.returncode, "reachable from other computers" in done.stderr) == (2, True)


def test_a_renewed_certificate_is_taken_and_a_broken_one_is_not(tmp_path: Path) -> None:
    tls = tls_files(tmp_path)
    it = Certificate(tls.certificate, tls.key)
    assert not it.changed()
    first = served_certificate(it.context)
    tls_files(tmp_path)
    assert it.changed()
    it.renew()
    assert served_certificate(it.context) not in ("", first)
    second = served_certificate(it.context)
    tls.certificate.write_text("half of i")
    assert it.changed()
    with pytest.raises(ConfigError):
        it.renew()
    assert served_certificate(it.context) == second
    assert not it.changed()  # told once
    tls.certificate.unlink()
    assert not it.changed()


def served_certificate(context: ssl.SSLContext) -> str:
    """What a client is shown, over a pair of buffers instead of a network."""
    client = ssl.create_default_context()
    client.check_hostname, client.verify_mode = False, ssl.CERT_NONE
    there, back = ssl.MemoryBIO(), ssl.MemoryBIO()
    asks = client.wrap_bio(back, there)
    serves = context.wrap_bio(there, back, server_side=True)
    for _ in range(4):
        for end in (asks, serves):
            with contextlib.suppress(ssl.SSLWantReadError):
                end.do_handshake()
    return (asks.getpeercert(binary_form=True) or b"").hex()


def test_what_is_doubtful_of_its_time(tmp_path: Path) -> None:
    def doubts(days: float, at: str = "") -> list[str]:
        tls = tls_files(tmp_path, days=days)
        return list(Certificate(tls.certificate, tls.key).doubts(at or SystemClock().utc()))

    assert doubts(40) == []
    assert "ends on" in doubts(10)[0]
    assert "ended on" in doubts(-1)[0]
    assert "is the clock right" in doubts(40, "1970-01-01T00:00:10.000Z")[0]


def test_a_token_that_can_be_guessed_is_refused(tmp_path: Path) -> None:
    text = (
        '[elsewhere]\nhost = "127.0.0.2"\nport = 0\nnames = ["a"]\nallow_plain = true\n'
        f'metrics_token_file = "{tmp_path / "token"}"\n'
    )
    for token in ("", "short", "ä" * 30):
        (tmp_path / "token").write_text(token)
        with pytest.raises(ConfigError) as caught:
            SecondDoor(configuration.parse(text), Supervisor({}))
        assert caught.value.code == "bad-token"
        assert token not in str(caught.value) or not token


# --- connections that say nothing -------------------------------------------------------------


@pytest.fixture
def served(monkeypatch: pytest.MonkeyPatch) -> Iterator[int]:
    """A server of ours with hardly any patience, in a thread; its port."""
    import threading

    monkeypatch.setattr(patient, "HEAD_S", 0.3)
    monkeypatch.setattr(patient, "MOST_EACH", 5)

    async def app(scope: object, receive: object, send: object) -> None:
        await send({"type": "http.response.start", "status": 200, "headers": []})  # type: ignore[operator]
        await send({"type": "http.response.body", "body": b"here"})  # type: ignore[operator]

    sock = socket.socket()
    sock.bind(("127.0.0.1", 0))
    server: uvicorn.Server = web_server(app, most=100, counted=True)  # type: ignore[arg-type]
    thread = threading.Thread(target=lambda: asyncio.run(server.serve([sock])), daemon=True)
    thread.start()
    until(lambda: server.started)
    yield sock.getsockname()[1]
    server.should_exit = True
    thread.join(10)


@pytest.mark.parametrize("first", [b"", b"GET / HT", b"GET / HTTP/1.1\r\nHost: x\r\n\r\n"])
def test_a_head_that_does_not_come_to_its_end_is_not_waited_for(served: int, first: bytes) -> None:
    with socket.create_connection(("127.0.0.1", served), 5) as line:
        line.sendall(first)
        if first.endswith(b"\r\n\r\n"):  # the second request of a connection, then
            assert line.recv(4096).startswith(b"HTTP/1.1 200")
            line.sendall(b"GET / HT")
        gone = b"x"
        with contextlib.suppress(ConnectionError):
            while gone:
                gone = line.recv(4096)
    with httpx.Client() as other:
        assert other.get(f"http://127.0.0.1:{served}/").text == "here"


def test_an_address_has_only_so_many_connections(served: int) -> None:
    with contextlib.ExitStack() as held:
        lines = [
            held.enter_context(socket.create_connection(("127.0.0.1", served), 5))
            for _ in range(patient.MOST_EACH)
        ]
        until(lambda: answered(served) == "refused")
        lines[0].close()
        until(lambda: answered(served) == "here")


def answered(port: int) -> str:
    try:
        with httpx.Client(timeout=5) as one:
            return one.get(f"http://127.0.0.1:{port}/").text
    except httpx.TransportError:
        return "refused"
