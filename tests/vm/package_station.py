"""The service in the guest, as systemd has it, and its station, as a page has it."""

from __future__ import annotations

import json
import sqlite3
import subprocess
import time
import urllib.error
import urllib.request
import uuid
from collections.abc import Callable
from contextlib import closing
from decimal import Decimal
from pathlib import Path
from typing import Any

import gadget

UNIT = "weighd.service"
ADDRESS = ("127.0.0.1", 8451)
RECORD = Path("/var/lib/weighd/record")
VESSEL = 2500
BEGAN = time.monotonic()
#: There is no KVM, and others may be busy: how long one thing may take, seconds.
PATIENCE_S = 240.0


def say(text: str) -> None:
    """Tell it, with the time since the start."""
    print(f"GUEST {time.monotonic() - BEGAN:6.1f} s  {text}", flush=True)


def ask_host(what: str) -> None:
    """Ask the host's side to do something."""
    print(f"\nHOST {what}", flush=True)


def run(*command: str, check: bool = True) -> str:
    """A command of the system; what it printed."""
    done = subprocess.run(command, capture_output=True, text=True)
    assert not check or done.returncode == 0, f"{command}: {done.stdout}{done.stderr}"
    return done.stdout


def prop(name: str) -> str:
    """A property of the service, as systemd has it."""
    return run("systemctl", "show", "--property", name, "--value", UNIT).strip()


def status() -> str:
    """What systemd says of it, with what it said last."""
    return run("systemctl", "status", "--no-pager", UNIT, check=False)


def until(what: Callable[[], Any], told: Callable[[], object] = str, seconds: float = 0) -> Any:
    """Ask until it is so; what it then is."""
    end = time.monotonic() + (seconds or PATIENCE_S)
    while True:
        try:
            if found := what():
                return found
        except (OSError, urllib.error.URLError):
            pass  # it is being started
        assert time.monotonic() < end, f"it did not come to be: {told()}"
        time.sleep(0.2)


# --- the station ---------------------------------------------------------------------------------


def request(path: str, body: Any = None, **headers: str) -> Any:
    """Ask the page's address; JSON, or bytes of anything else."""
    data = None if body is None else json.dumps(body).encode()
    given = {"Content-Type": "application/json", "Idempotency-Key": str(uuid.uuid4()), **headers}
    asked = urllib.request.Request(f"http://{ADDRESS[0]}:{ADDRESS[1]}{path}", data, given)
    with urllib.request.urlopen(asked, timeout=60) as answer:
        kind, told = answer.headers["Content-Type"], answer.read()
    return json.loads(told) if "json" in kind else told


def state() -> dict[str, Any]:
    """The picture that every page has."""
    return dict(request("/api/state")["state"])


def press(do: str, **more: Any) -> Any:
    """A command for the batch; pressed again where the scale moved meanwhile."""
    batch = state()["batch"]["id"]
    end = time.monotonic() + PATIENCE_S
    while True:
        try:
            return request(f"/api/batches/{batch}/commands", {"do": do, **more})
        except urllib.error.HTTPError as error:
            told = json.load(error)
            if told["code"] != "not-settled" or time.monotonic() > end:
                raise AssertionError(told) from error
            time.sleep(0.5)


def live(name: str, grams: str) -> None:
    """Wait until a scale shows an amount."""

    def so() -> bool:
        reading = request("/api/scales")["scales"][name]["reading"]
        return bool(reading) and Decimal(reading["grams"] or "-1") == Decimal(grams)

    until(so, lambda: request("/api/scales")["scales"][name])


def accepted() -> int:
    """How many additions of the batch are accepted: in the record, and so for the page."""
    batch = state()["batch"]
    assert batch["id"].endswith("-0001"), batch
    shown = sum(1 for one in batch["additions"] if one["status"] == "accepted")
    with closing(sqlite3.connect(f"file:{RECORD}/weighd.db?mode=ro", uri=True)) as record:
        rows = record.execute("SELECT body FROM entry WHERE kind = 'addition accepted'").fetchall()
    assert len({json.loads(body)["addition"] for (body,) in rows}) == shown, (batch, rows)
    return shown


def vessel_stands() -> bool:
    """Whether the vessel can be tared: an empty scale could be too, if one insisted."""
    now = state()["live"] or {}
    return "tare" in now.get("can", ()) and Decimal(now["gross_g"] or 0) * 10 == VESSEL


def weigh(scale: gadget.Gadget, n: int, tenths: int) -> None:
    """Pour to a display of ``tenths``, and accept."""
    scale.weight = tenths
    until(lambda: (state()["live"] or {}).get("verdict") == "on target", state)
    press("accept", addition=n)
