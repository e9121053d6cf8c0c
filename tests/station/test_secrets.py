"""Nothing secret, and no name of a person, stands where others read.

Logs, metrics, answers, errors, exports, the list of processes: shown with canaries that are put in
everywhere there is room.
"""

from __future__ import annotations

import re
import socket
import ssl
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

import httpx
import pytest

from tests.dose import LONG
from tests.forked import run
from tests.station.daemon import Served, kitchen
from tests.station.tls_files import tls_files

PIN, WRONG_PIN = "83920174", "50617283"
METRICS = "canary-metrics-5e1f9b7d20"
BROKER, STORE = "canary-broker-90aa7c", "canary-store-77b1d3"
NAME, DEVICE = "Canarina Zwitscher", "canary tablet"


@dataclass
class Told:
    """A station that was asked for much, all that it said, and what was secret."""

    served: Served
    config: Path
    said: dict[str, str] = field(default_factory=dict)
    secrets: dict[str, str] = field(default_factory=dict)


def lived(folder: Path, form: str) -> Iterator[Told]:
    tls = tls_files(folder)
    for name, secret in (("metrics", METRICS), ("broker", BROKER), ("store", STORE)):
        (folder / name).write_text(f"{secret}\n")
    with socket.socket() as probe:
        probe.bind(("127.0.0.2", 0))
        port = probe.getsockname()[1]
    config = kitchen(folder)
    config.write_text(
        f'{config.read_text()}\n[log]\nlevel = "debug"\nformat = "{form}"\n'
        f'[elsewhere]\nhost = "127.0.0.2"\nport = {port}\nnames = ["127.0.0.2"]\n'
        f'metrics_token_file = "metrics"\n{tls.toml}\n'
        '[floor]\nbroker = "mqtt://127.0.0.1:1"\nuser = "bench"\npassword_file = "broker"\n'
        '[shared]\nstore = "postgresql://bench@127.0.0.1:1/weighd"\npassword_file = "store"\n'
    )
    # As a process of its own, whose arguments everybody sees.
    with Served(config, under=("env",)) as served:
        told = Told(served, config)
        ask(told, served, f"https://127.0.0.2:{port}", str(tls.certificate))
        pids = [served.pid, *children(served.pid)]
        told.said["processes"] = "".join(
            Path(f"/proc/{pid}/cmdline").read_text("utf-8", "replace") for pid in pids
        )
        export = run("export", "kitchen-0001", "--config", str(config))
        told.said["export"] = export.stdout + export.stderr
        for command in (("doctor", "--listen", "0"), ("devices", "--json"), ("people", "list")):
            done = run(*command, "--config", str(config))
            told.said[command[0]] = done.stdout + done.stderr
        served.stop()
        told.said["log"] = served.log()
        key = tls.key.read_text().splitlines()[1]
        own = next((folder / "data").glob("*.key"), None)
        told.secrets |= {
            "PIN": PIN, "wrong PIN": WRONG_PIN, "token for metrics": METRICS,
            "password of the broker": BROKER, "password of the store": STORE, "TLS key": key,
        }  # fmt: skip
        if own is not None:
            told.secrets["key"] = own.read_bytes().hex()[-40:]
        yield told


def ask(told: Told, served: Served, there: str, certificate: str) -> None:
    """Use every secret rightly and wrongly, and keep all answers."""
    answers = []

    def keep(answer: httpx.Response) -> httpx.Response:
        answers.append(f"{answer.status_code} {answer.text}")
        return answer

    keep(served.ask("POST", "/api/people", {"name": NAME, "pin": PIN, "rights": ["all"]}))
    for pin in (WRONG_PIN, PIN):
        keep(served.ask("POST", "/api/sign-in", {"name": NAME, "pin": pin}))
    keep(served.ask("POST", "/api/sign-in", {"name": NAME, "pin": PIN, "extra": PIN}))
    keep(served.ask("POST", "/api/people", {"name": 7, "pin": {"a": PIN}, "rights": PIN}))
    keep(served.ask("POST", f"/api/people/{NAME}/pin", {"pin": PIN}))
    keep(served.ask("POST", "/api/sign-in", {"name": NAME, "pin": PIN}))
    asked = {"name": NAME, "pin": PIN, "right": "correct"}
    lent = served.ask("POST", "/api/allow", asked).json()["token"]
    code = served.ask("POST", "/api/devices", {"name": DEVICE}).json()["code"]
    keep(served.ask("POST", "/api/batches", {"formula": "test-ice", "operator": NAME}))
    keep(served.ask("PUT", "/api/limits/nothing", {"name": PIN}))
    with httpx.Client(base_url=there, verify=certificate_of(certificate), timeout=12) as device:
        keep(device.post("/api/device/pair", json={"code": "00000000"}))
        made = device.post("/api/device/pair", json={"code": code})
        token = next(iter(device.cookies.jar)).value
        assert token
        answers.append(made.text)
        for path in ("health", "state", "people", "devices", "device", "openapi.json", "nowhere"):
            keep(device.get(f"/api/{path}", headers={"Weighd-Lent": lent}))
        keep(device.post("/api/batches", content=b'{"pin": "%s"' % PIN.encode()))
        bearer = {"Authorization": f"Bearer {METRICS}"}
        told.said["metrics"] = device.get("/metrics", headers=bearer).text
        keep(device.get("/api/state", headers=bearer))
        keep(device.post("/api/device/leave"))
    told.said["answers"] = "\n".join(answers)
    told.secrets |= {"token": token, "lent token": lent, "code": code}


def certificate_of(file: str) -> ssl.SSLContext:
    return ssl.create_default_context(cafile=file)


def children(pid: int) -> list[int]:
    found = Path(f"/proc/{pid}/task").glob("*/children")
    return [int(one) for file in found for one in file.read_text().split()]


@pytest.fixture(scope="module", params=["json", "text"] if LONG else ["json"])
def told(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Told]:
    yield from lived(tmp_path_factory.mktemp("station"), request.param)


def test_no_secret_stands_where_others_read(told: Told) -> None:
    assert len(told.secrets) >= 9
    found = {
        (what, where)
        for where, text in told.said.items()
        for what, secret in told.secrets.items()
        if secret in text
    }
    assert found == set()
    assert "serve" in told.said["processes"]
    assert "weighd_scale_link" in told.said["metrics"]


def test_a_log_names_nobody(told: Told) -> None:
    log = told.said["log"]
    assert "person 1 was added" in log
    assert "look after people: POST /api/people/{name}/pin, by person 1" in log
    for personal in (*NAME.split(), DEVICE.split(maxsplit=1)[0] + " t"):
        assert personal not in log
    assert NAME in told.said["people"]
    assert "1. " in told.said["people"]


def test_a_secret_lies_hashed_or_in_a_file_of_its_own(told: Told) -> None:
    data = told.config.parent / "data"
    kept = b"".join(one.read_bytes() for one in data.rglob("*") if one.is_file())
    for what in ("PIN", "wrong PIN", "token", "lent token", "code", "token for metrics"):
        assert told.secrets[what].encode() not in kept, what
    for file in data.rglob("*"):
        if re.search(r"\.key$|weighd\.db", file.name):
            assert file.stat().st_mode & 0o077 == 0 or not file.name.endswith(".key"), file
