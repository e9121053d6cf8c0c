"""Who has no business at the station, and is refused: from elsewhere, and on the same computer."""

from __future__ import annotations

import http.client
import json
import re
import socket
import subprocess
import urllib.error
from typing import Any

from package_station import ADDRESS, prop, request, run, say

#: An address that is not of loopback, though nothing leaves the machine by it (RFC 5737).
OUTSIDE, DOOR = "192.0.2.7", 8452
#: What somebody is answered who may not.
REFUSED = (401, 403, 422)
#: Somebody who has an account on the same computer, and no more.
SOMEBODY = "nobody"


def plug_in() -> None:
    """The address by which others come."""
    run("ip", "address", "replace", f"{OUTSIDE}/32", "dev", "lo")


def strangers() -> None:
    """Nobody gets in from elsewhere, by address or by name."""
    try:
        socket.create_connection((OUTSIDE, ADDRESS[1]), 10).close()
    except ConnectionRefusedError:
        pass
    else:
        raise AssertionError("it listens beyond loopback")
    for header in ({"Host": "evil.example"}, {"Origin": "http://evil.example"}):
        try:
            request("/api/notices/n1/dismiss", {}, **header)
        except urllib.error.HTTPError as error:
            assert error.code in (400, 403, 421), error.code
        else:
            raise AssertionError(f"let in with {header}")
    assert b"<html" in request("/").lower()
    say("strangers are refused, by address, by Host and by Origin")


def others(batch: str) -> None:
    """Another device is shut out until it is let in with a code, and once it is forgotten."""
    pressed = f"/api/batches/{batch}/commands"
    for method, path in (("GET", "/api/state"), ("POST", pressed), ("GET", "/metrics")):
        assert ask(method, path)[0] == 401, path
    assert ask("GET", "/api/health")[1] in ({"status": "ok"}, {"status": "degraded"})
    code = request("/api/devices", {"name": "tablet", "may": "work"})["code"]
    assert re.fullmatch(r"\d{8}", code)
    wrong = str((int(code) + 1) % 100_000_000).zfill(8)
    assert ask("POST", "/api/device/pair", {"code": wrong})[0] in REFUSED
    status, _, cookie = ask("POST", "/api/device/pair", {"code": code})
    assert status == 201, status
    assert ask("GET", "/api/state", cookie=cookie)[0] == 200
    assert ask("POST", "/api/devices", {"name": "x", "may": "all"}, cookie)[0] in REFUSED
    (let_in,) = request("/api/devices")["devices"]
    request(f"/api/devices/{let_in['id']}/forget", {})
    assert ask("GET", "/api/state", cookie=cookie)[0] == 401
    say("another device: nothing without a code, in with it, out once it is forgotten")


def others_here() -> None:
    """Another user of the same computer reads nothing of it, and stops nothing."""
    kept = ("/etc/weighd/weighd.toml", "/var/lib/weighd/record/weighd.db")
    for path in (*kept, "/var/lib/weighd/record/station-key.pem", "/var/lib/weighd/formulas"):
        refused("ls", "-l", path)
        refused("cat", path)
    refused("weighd", "verify", kept[1])
    refused("weighd", "serve", "--config", kept[0])
    refused("kill", "-9", prop("MainPID"))
    refused("touch", "/var/lib/weighd/x")
    say(f"another user here ({SOMEBODY}) reads no record, no key and no configuration")


def refused(*command: str) -> None:
    """A command that this user must not come through with, by what the system says of rights."""
    done = subprocess.run(
        ("runuser", "-u", SOMEBODY, "--", *command), capture_output=True, text=True, cwd="/"
    )
    told = (done.stdout + done.stderr).lower()
    assert done.returncode != 0, (command, told)
    assert "permi" in told, (command, told)  # "permission denied", "operation not permitted"


def ask(method: str, path: str, body: Any = None, cookie: str = "") -> tuple[int, Any, str]:
    """Ask at the second door: status, answer, and the cookie that was set."""
    link = http.client.HTTPConnection(OUTSIDE, DOOR, timeout=60)
    headers = {"Content-Type": "application/json", "Idempotency-Key": f"{path}-{body}"}
    headers |= {"Cookie": cookie} if cookie else {}
    try:
        link.request(method, path, None if method == "GET" else json.dumps(body or {}), headers)
        answer = link.getresponse()
        text = answer.read()
        told = json.loads(text) if "json" in str(answer.headers["Content-Type"]) else text
        return answer.status, told, str(answer.headers["Set-Cookie"] or "").partition(";")[0]
    finally:
        link.close()
