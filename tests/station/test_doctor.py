"""What ``weighd doctor`` finds: each thing that keeps a station from weighing, with its remedy."""

from __future__ import annotations

import json
import socket
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from http.server import BaseHTTPRequestHandler, HTTPServer
from pathlib import Path
from typing import Any

import pytest
from pytest_mock import MockerFixture

from tests.forked import run
from tests.pty_scale import PtyScale
from tests.station.tls_files import tls_files
from tests.storage.entries import Chain
from weighd import __version__
from weighd.config import Config
from weighd.main import doctor
from weighd.main.doctor import examine
from weighd.main.doctor_finding import Finding, Level
from weighd.main.shipped import copy_of_the_kitchen
from weighd.storage.journal import open_journal
from weighd.storage.keys import KEY_FILE, station_key

LISTEN_S = 0.6


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
    return port


@pytest.fixture
def kitchen(tmp_path: Path) -> Path:
    """The configuration of a station that can run, with a record and a key."""
    copy_of_the_kitchen(tmp_path / "formulas")
    (tmp_path / "data").mkdir()
    open_journal(tmp_path / "data" / "weighd.db", "kitchen").close()
    station_key(tmp_path / "data" / KEY_FILE)
    file = tmp_path / "weighd.toml"
    file.write_text(
        f'[station]\nname = "kitchen"\ndata = "data"\n[http]\nport = {free_port()}\n', "utf-8"
    )
    return file


def found(file: Path, listen_s: float = 0.0) -> dict[str, Finding]:
    """What is not in order, by what it is about; one finding each."""
    out = {}
    for one in examine(file, lambda it: it, listen_s):
        assert one.what.strip()
        assert one.level in (Level.OK, Level.NOTE) or one.remedy, one  # says how to mend it
        if one.level is not Level.OK:
            assert one.about not in out, one
            out[one.about] = one
    return out


def add(file: Path, text: str) -> Path:
    file.write_text(file.read_text("utf-8") + text, "utf-8")
    return file


@pytest.fixture(autouse=True)
def _built(mocker: MockerFixture, tmp_path_factory: pytest.TempPathFactory) -> None:
    """The page is there, whether or not somebody built it here."""
    folder = tmp_path_factory.mktemp("page")
    (folder / "dist").mkdir()
    (folder / "dist" / "index.html").write_text("", "utf-8")
    mocker.patch.object(doctor, "files", return_value=folder)


def test_a_station_that_can_run_has_nothing_to_mend(kitchen: Path) -> None:
    assert found(kitchen) == {
        "scales": Finding(
            "scales",
            Level.NOTE,
            "None is configured.",
            "weighd scales shows what is plugged in.",
        )
    }


def test_nothing_is_written(kitchen: Path) -> None:
    def there() -> dict[Path, bytes]:
        return {one: one.read_bytes() for one in kitchen.parent.rglob("*") if one.is_file()}

    before = there()
    found(kitchen)
    assert there() == before


def test_a_newcomer_is_told_what_comes(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path))

    def change(config: Config) -> Config:
        http = config.http.model_copy(update={"port": free_port()})
        return config.model_copy(update={"http": http})

    levels = {one.about: one.level for one in examine(None, change, 0.0)}
    assert Level.BAD not in levels.values()
    assert levels["configuration"] is levels["record"] is levels["folder"] is Level.NOTE
    assert not list(tmp_path.iterdir())


def test_a_configuration_that_cannot_be_used_is_named_with_its_line(kitchen: Path) -> None:
    one = found(add(kitchen, 'prot = "8"\n'))["configuration"]
    assert one.level is Level.BAD
    assert "weighd.toml" in one.where + one.what
    assert "prot" in one.what + one.where


@pytest.mark.parametrize(
    ("line", "instead"),
    [("allow_remote = true", "section elsewhere"), ('allowed_hosts = ["a"]', "elsewhere.names")],
)
def test_a_key_of_an_older_weighd_is_told_with_what_stands_for_it(
    kitchen: Path, line: str, instead: str
) -> None:
    key = line.split(maxsplit=1)[0]
    add(kitchen, f"{line}\n")
    for command in ("doctor", "serve"):
        done = run(command, "--config", str(kitchen))
        assert done.returncode == (1 if command == "doctor" else 2), done
        said = " ".join((done.stdout + done.stderr).split())
        assert f"http.{key}" in said and f'"{key}" is gone, take it out;' in said, said
        assert instead in said


def test_a_formula_that_cannot_be_read_is_told_and_the_others_can_be_used(kitchen: Path) -> None:
    (kitchen.parent / "formulas" / "broken.toml").write_text("name = ", "utf-8")
    one = found(kitchen)["formulas"]
    assert one.level is Level.WARN
    assert "broken.toml" in one.where


def test_the_record_of_another_station_is_told(kitchen: Path) -> None:
    text = kitchen.read_text("utf-8").replace('"kitchen"', '"pantry"')
    kitchen.write_text(text, "utf-8")
    journal = open_journal(kitchen.parent / "data" / "weighd.db", "kitchen")

    journal.append([Chain().opening("kitchen-0001")])
    journal.close()
    one = found(kitchen)["record"]
    assert (one.level, '"kitchen"' in one.what) == (Level.BAD, True)


def test_a_record_that_is_none_is_told(kitchen: Path) -> None:
    (kitchen.parent / "data" / "weighd.db").write_bytes(b"this is no database" * 100)
    assert found(kitchen)["record"].level is Level.BAD


def test_a_key_that_others_can_read_is_told(kitchen: Path) -> None:
    (kitchen.parent / "data" / KEY_FILE).chmod(0o644)
    one = found(kitchen)["key"]
    assert (one.level, "chmod 600" in one.remedy) == (Level.BAD, True)


@pytest.mark.parametrize(
    ("free", "level"), [(10**6, Level.BAD), (10**8, Level.WARN), (10**10, None)]
)
def test_a_disk_that_is_nearly_full_is_told(
    kitchen: Path, mocker: MockerFixture, free: int, level: Level | None
) -> None:
    usage = mocker.patch.object(doctor.shutil, "disk_usage")
    usage.return_value.free = free
    one = found(kitchen).get("folder")
    assert (one and one.level) == level


def test_a_folder_that_cannot_be_written_is_told(kitchen: Path, mocker: MockerFixture) -> None:
    mocker.patch.object(
        doctor.tempfile, "NamedTemporaryFile", side_effect=OSError(30, "Read-only file system")
    )
    one = found(kitchen)["folder"]
    assert (one.level, "Read-only" in one.what) == (Level.BAD, True)


def test_a_clock_that_cannot_be_right_is_told(kitchen: Path, mocker: MockerFixture) -> None:
    mocker.patch.object(doctor.SystemClock, "utc", return_value="1970-01-01T00:01:00.000Z")
    one = found(kitchen)["clock"]
    assert (one.level, "1970" in one.what) == (Level.WARN, True)


def test_a_page_that_was_not_built_is_told(
    kitchen: Path, mocker: MockerFixture, tmp_path: Path
) -> None:
    mocker.patch.object(doctor, "files", return_value=tmp_path)
    assert found(kitchen)["page"].level is Level.BAD


def test_a_door_that_others_come_in_by_is_looked_at(kitchen: Path, tmp_path: Path) -> None:
    port = free_port()
    names = f'[elsewhere]\nhost = "127.0.0.2"\nport = {port}\nnames = ["bench.example"]\n'
    add(kitchen, f"{names}allow_plain = true\n")
    told = found(kitchen)
    assert (told["people"].level, told["elsewhere"].level) == (Level.WARN, Level.WARN)
    assert "without TLS" in told["elsewhere"].what
    pair = tls_files(tmp_path, days=30)
    text = kitchen.read_text("utf-8").replace("allow_plain = true", pair.toml)
    kitchen.write_text(text, "utf-8")
    assert not {"elsewhere", "certificate"} & set(found(kitchen))
    tls_files(tmp_path, days=5)
    assert found(kitchen)["certificate"].level is Level.WARN
    tls_files(tmp_path, days=-1)
    ended = found(kitchen)["certificate"]
    assert (ended.level, "ended on" in ended.what) == (Level.BAD, True)
    pair.key.chmod(0o644)
    assert "read the private key" in found(kitchen)["elsewhere"].what
    pair.key.chmod(0o600)
    tls_files(tmp_path, days=30)
    with socket.socket() as other:
        other.bind(("127.0.0.2", port))
        other.listen()
        assert found(kitchen)["elsewhere"].level is Level.BAD


# --- who is at the port ---


@contextmanager
def answering(port: int, body: Any) -> Iterator[None]:
    class Answer(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            self.send_response(200)
            self.end_headers()
            self.wfile.write(json.dumps(body).encode())

        def log_message(self, *_: Any) -> None:
            pass

    server = HTTPServer(("127.0.0.1", port), Answer)
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    try:
        yield
    finally:
        server.shutdown()
        server.server_close()
        thread.join()


def port_of(file: Path) -> int:
    return int(file.read_text("utf-8").rpartition("port = ")[2])


def test_a_port_that_somebody_else_has_is_told(kitchen: Path) -> None:
    with answering(port_of(kitchen), {"hello": "there"}):
        assert found(kitchen)["address"].level is Level.BAD


def test_a_station_that_runs_is_asked_and_keeps_its_scales(kitchen: Path) -> None:
    port = port_of(kitchen)
    add(kitchen, '[scales.bench]\ndriver = "serial"\nport = "/dev/none"\n')
    health = {
        "status": "degraded",
        "version": "0.0.1",
        "scales": {"bench": "live", "fine": "lost"},
        "store": "The disk is full.",
    }
    with answering(port, health):
        told = {one.about: one for one in examine(kitchen, lambda it: it, 5.0)}
    assert told["scale bench"].level is Level.OK  # not opened: it would not have been there
    assert told["scale fine"].level is Level.BAD
    assert told["station"].level is Level.WARN
    assert __version__ in told["station"].what


# --- scales ---


def scale(file: Path, port: Path) -> Path:
    return add(file, f'[scales.bench]\ndriver = "serial"\nport = "{port}"\ninterval_g = "0.1"\n')


def test_a_scale_is_listened_to(kitchen: Path, tmp_path: Path) -> None:
    scale(kitchen, tmp_path / "tty")
    with PtyScale(tmp_path / "tty"):
        told = {one.about: one for one in examine(kitchen, lambda it: it, 1.5)}
    assert told["scale bench"].level is Level.OK, told["scale bench"]
    assert "the last: 0.0 g" in told["scale bench"].what


def test_a_scale_that_is_not_there_is_told(kitchen: Path, tmp_path: Path) -> None:
    one = found(scale(kitchen, tmp_path / "tty"), LISTEN_S)["scale bench"]
    assert (one.level, "not plugged in" in one.what) == (Level.BAD, True)


def test_a_scale_that_says_nothing_is_told(kitchen: Path, tmp_path: Path) -> None:
    scale(kitchen, tmp_path / "tty")
    with PtyScale(tmp_path / "tty") as pty:
        pty.silent()
        one = found(kitchen, LISTEN_S)["scale bench"]
    assert (one.level, "said nothing" in one.what) == (Level.WARN, True)


def test_a_driver_that_there_is_none_of_is_told(kitchen: Path) -> None:
    add(kitchen, '[scales.bench]\ndriver = "nosuch"\n')
    assert "nosuch" in found(kitchen)["scales"].what


# --- what it speaks with ---


def test_a_shared_store_and_a_broker_that_are_away_are_told(kitchen: Path) -> None:
    port = free_port()
    add(
        kitchen,
        f'[shared]\nstore = "postgresql://nobody@127.0.0.1:{port}/nothing"\n'
        f'[floor]\nbroker = "mqtt://127.0.0.1:{port}"\n',
    )
    told = found(kitchen)
    assert told["shared store"].level is told["broker"].level is Level.WARN


def test_a_broker_that_answers_is_well(kitchen: Path) -> None:
    with socket.create_server(("127.0.0.1", 0)) as there:
        port = there.getsockname()[1]
        add(kitchen, f'[floor]\nbroker = "mqtt://127.0.0.1:{port}"\n')
        assert "broker" not in found(kitchen)


# --- the command ---


def test_the_command_says_it_in_words_and_by_its_exit_code(kitchen: Path) -> None:
    done = run("doctor", "--config", str(kitchen), "--json")
    told = [json.loads(line) for line in done.stdout.splitlines()]
    assert {"about", "level", "what", "remedy", "where"} == told[0].keys()
    page = next(one for one in told if one["about"] == "page")  # built here or not
    assert done.returncode == int(page["level"] == "bad")
    (kitchen.parent / "data" / KEY_FILE).chmod(0o644)
    done = run("doctor", "--config", str(kitchen))
    assert done.returncode == 1
    assert "!!  key: Others on this computer can read the station's key" in done.stdout
    assert "      -> Take their rights away: chmod 600" in done.stdout
