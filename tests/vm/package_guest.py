"""What is tested of the package, as root in a system that systemd started; systemd starts this.

At the first start there is no weighd. It is installed and weighed with, and the system is started
anew in mid-batch; at the second one everything else that may befall a service befalls it. Lines
that begin with ``GUEST`` are told, with ``HOST`` asked of the host's side. Only the standard
library of the system's Python is used.
"""

from __future__ import annotations

import json
import os
import pwd
import re
import signal
import socket
import subprocess
import sys
import time
import traceback
import urllib.error
from decimal import Decimal
from pathlib import Path

import gadget
import package_strangers
from package_first import ADAPTER, CONFIG, DPKG, exposed, installed, set_up
from package_station import (
    ADDRESS,
    PATIENCE_S,
    RECORD,
    UNIT,
    VESSEL,
    accepted,
    ask_host,
    live,
    press,
    prop,
    request,
    run,
    say,
    state,
    status,
    until,
    vessel_stands,
    weigh,
)

#: Somebody who weighs: a name that must not be in any log.
WHO = "Ottilie Erfunden"
LOT = "LOT-NOT-FOR-THE-LOG"


# --- what has to hold ----------------------------------------------------------------------------


def begun(scale: gadget.HidGadget) -> None:
    """A batch, with its first addition in the record."""
    request("/api/batches", {"formula": "test-ice", "operator": WHO, "scale": "raw"})
    scale.weight = VESSEL
    until(vessel_stands, state)
    press("tare", addition=1)
    press("name lot", lot=LOT, addition=1)
    weigh(scale, 1, VESSEL + 5000)
    assert accepted() == 1
    say("one addition is in the record")


def booted() -> None:
    """Started with the system, as a user of its own, with the batch that was open."""
    assert run("systemctl", "is-enabled", UNIT).strip() == "enabled"
    until(lambda: prop("ActiveState") == "active", status)
    assert prop("NRestarts") == "0"
    pid = int(prop("MainPID"))
    assert pwd.getpwuid(Path(f"/proc/{pid}").stat().st_uid).pw_name == "weighd"
    assert "1 of 3 accepted" in until(lambda: prop("StatusText")), prop("StatusText")
    assert accepted() == 1
    say(f"started with the system, pid {pid}; {prop('StatusText')}")


def shut() -> None:
    """What the unit shuts is shut, seen from inside its own process."""
    pid = prop("MainPID")
    status = Path(f"/proc/{pid}/status").read_text()
    for line in ("NoNewPrivs:\t1", "Seccomp:\t2", "CapEff:\t0000000000000000"):
        assert line in status, line
    inside = ("nsenter", "--mount", "--target", pid, "setpriv", "--reuid=weighd", "--clear-groups")
    for path, may in (("/etc/x", False), ("/usr/x", False), ("/var/lib/weighd/x", True)):
        done = subprocess.run([*inside, "touch", path], capture_output=True, text=True)
        assert (done.returncode == 0) is may, (path, done.stderr)
    Path("/var/lib/weighd/x").unlink()
    say("no new rights, no capabilities, system calls filtered, a system that it cannot write")


def killed(scale: gadget.Gadget) -> None:
    """kill -9 in mid-batch: whoever asks meanwhile waits; nothing is lost."""
    before = accepted()
    assert prop("NFileDescriptorStore") == "2", "the sockets of both doors are kept"
    os.kill(int(prop("MainPID")), signal.SIGKILL)
    began = time.monotonic()
    there = (package_strangers.OUTSIDE, package_strangers.DOOR)
    with socket.create_connection(ADDRESS, 30) as asking, socket.create_connection(there) as tablet:
        for one, host in ((asking, "localhost"), (tablet, f"{there[0]}:{there[1]}")):
            head = f"GET /api/health HTTP/1.1\r\nHost: {host}\r\nConnection: close\r\n\r\n"
            one.sendall(head.encode())
            one.settimeout(PATIENCE_S)
        # 503 is what a start that takes long says: come again in a moment.
        said = asking.recv(100)
        assert said.startswith((b"HTTP/1.1 200", b"HTTP/1.1 503")), said
        elsewhere = tablet.recv(100)
        assert elsewhere.startswith(b"HTTP/1.1 200"), elsewhere
    until(lambda: request("/api/health"))
    assert prop("NRestarts") == "1"
    assert accepted() == before
    say(
        f"killed: who asked then at either door was answered, after {time.monotonic() - began:.1f}"
        f" s ({said[9:12].decode()}, {elsewhere[9:12].decode()}), none lost"
    )
    live("raw", str(Decimal(scale.weight) / 10))


def stopped() -> None:
    """One that hangs is ended by the watchdog, says where it hung, and is started again."""
    before, restarts = accepted(), int(prop("NRestarts"))
    os.kill(int(prop("MainPID")), signal.SIGSTOP)
    began = time.monotonic()
    until(lambda: int(prop("NRestarts")) == restarts + 1)
    took = time.monotonic() - began
    until(lambda: prop("ActiveState") == "active" and accepted() == before)
    said = run("journalctl", "--unit", UNIT, "--output", "cat", "--no-pager")
    assert "Watchdog timeout" in said
    assert "Fatal Python error: Aborted" in said, "where it hung is not told"
    say(f"hung: ended by the watchdog and started again after {took:.0f} s, none lost")


def unplugged(scale: gadget.Gadget) -> None:
    """The scale is pulled out and put back; the service goes on."""
    pid, weight = prop("MainPID"), scale.weight
    scale.unplug()
    until(lambda: request("/api/scales")["scales"]["raw"]["link"] == "lost")
    assert "raw lost" in until(lambda: "raw lost" in prop("StatusText") and prop("StatusText"))
    scale.weight = weight
    scale.plug()
    live("raw", str(Decimal(weight) / 10))
    until(lambda: not (state()["live"] or {}).get("held"), state)
    assert prop("MainPID") == pid
    say("unplugged and back, under the same process")


def full(scale: gadget.Gadget) -> None:
    """A disk without room: said in words, nothing lost, and on it goes once there is room."""
    before, pid = accepted(), prop("MainPID")
    filler = RECORD / "filler"
    with filler.open("wb", buffering=0) as stream:
        try:
            while True:
                stream.write(bytes(4096))
        except OSError:
            pass
    scale.weight += 1200
    until(lambda: (state()["live"] or {}).get("verdict") == "on target", state)
    batch = state()["batch"]["id"]
    end = time.monotonic() + PATIENCE_S
    while True:
        try:
            request(f"/api/batches/{batch}/commands", {"do": "accept", "addition": before + 1})
        except urllib.error.HTTPError as error:
            told = json.load(error)
            if told["code"] != "not-settled":
                break
        else:
            raise AssertionError("accepted, though nothing can be recorded")
        assert time.monotonic() < end
        time.sleep(0.5)
    assert (told["code"], "disk is full" in told["detail"]) == ("store-full", True), told
    until(lambda: "NOTHING CAN BE RECORDED: The disk is full." in prop("StatusText"))
    assert accepted() == before
    filler.unlink()
    press("accept", addition=before + 1)
    assert accepted() == before + 1
    assert prop("MainPID") == pid
    say("a full disk: said in words, nothing lost, accepted once there was room")


def upgraded(following: str) -> None:
    """A newer package in mid-batch."""
    pid, before, version = (
        prop("MainPID"),
        accepted(),
        run("dpkg-query", "-W", "-f", "${Version}", "weighd"),
    )
    (Path("/etc/weighd") / "broker-password").write_text("kept\n")
    config = CONFIG.read_text()
    began = time.monotonic()
    run(*DPKG, "-i", following)
    after = run("dpkg-query", "-W", "-f", "${Version}", "weighd")
    assert after != version
    assert prop("MainPID") != pid, "the older one still runs"
    until(lambda: prop("ActiveState") == "active" and accepted() == before)
    assert CONFIG.read_text() == config
    assert run("systemctl", "is-enabled", UNIT).strip() == "enabled"
    say(f"{version} became {after} in {time.monotonic() - began:.0f} s, the batch open throughout")


def printed() -> None:
    """What needs other processes and libraries works inside the fence, too."""
    sheet = request(f"/api/batches/{state()['batch']['id']}/sheet.pdf")
    assert sheet.startswith(b"%PDF-")
    solved = request("/api/solve", {"of": "test-ice", "targets": {"milk": "<=800 g"}})
    assert "met" in solved, solved
    say(f"a sheet of {len(sheet)} bytes was set, and a mix solved")


def doctored() -> None:
    """The doctor, as it is documented to be called, finds nothing that keeps it from weighing."""
    config = ("--config", str(CONFIG))
    said = run("runuser", "-u", "weighd", "--", "weighd", "doctor", *config)
    assert "It runs: weighd" in said and "!!" not in said, said
    say("the doctor finds it well")


def logged() -> None:
    """Lines of JSON, without names or lots."""
    rows = [
        json.loads(one)
        for one in run(
            "journalctl", "--unit", UNIT, "--output", "json", "--no-pager", "--all"
        ).splitlines()
    ]
    own = [one["MESSAGE"] for one in rows if one.get("_COMM") != "systemd" and one.get("MESSAGE")]
    lines = [one for one in own if isinstance(one, str)]
    told = [json.loads(one) for one in lines if one.startswith("{")]
    events = {one["event"] for one in told}
    assert {"ready", "scale found"} <= events, events
    assert all({"timestamp", "level", "event"} <= one.keys() for one in told)
    # The one thing that is none: where a process hung that the watchdog ended.
    fault = re.compile(
        r"Fatal Python|Current thread|Thread 0x|  File |  \.\.\.|Extension modules|$"
    )
    other = [one for one in lines if not one.startswith("{") and not fault.match(one)]
    assert other == [], other
    whole = "\n".join(lines)
    for secret in (WHO, WHO.split(maxsplit=1)[0], LOT, "Milk"):
        assert secret not in whole, secret
    say(f"{len(told)} lines of JSON in the journal, and nobody's name")


def removed() -> None:
    """Removed, and purged: what was recorded stays."""
    run(*DPKG, "-r", "weighd")
    assert prop("ActiveState") == "inactive"
    assert CONFIG.exists() and (RECORD / "weighd.db").exists()
    assert not Path("/usr/lib/weighd/bin").exists()
    run(*DPKG, "-P", "weighd")
    assert not Path("/etc/weighd").exists()
    assert (RECORD / "weighd.db").exists() and (RECORD / "station-key.pem").exists()
    assert not Path("/etc/systemd/system/weighd.service").exists()
    say("removed and purged: the record and the key are there")


def scales(weight: int) -> gadget.HidGadget:
    """Both scales, plugged in only after the start: then they are let in, too."""
    if not gadget.GADGETS.exists():
        run("mount", "-t", "configfs", "none", str(gadget.CONFIGFS))
    scale = gadget.HidGadget(0)
    scale.weight = weight
    scale.plug()
    live("raw", str(Decimal(weight) / 10))
    ask_host(f"plug {ADAPTER}")
    until(lambda: request("/api/scales")["scales"]["line"]["link"] != "lost")
    ask_host("send")
    live("line", "432.1")
    say("a USB scale and a serial one are read, plugged in after the start")
    return scale


def main(first: str, following: str) -> None:
    """Everything, in order."""
    say(f"here, {Path('/proc/uptime').read_text().split()[0]} s after the kernel")
    if not Path("/usr/bin/weighd").exists():
        installed(first)
        exposed()
        set_up()
        scale = scales(0)
        package_strangers.strangers()
        shut()
        begun(scale)
        logged()
        say("the machine is started anew, from the same disk")
        print("GUEST starts anew", flush=True)
        signal.signal(signal.SIGTERM, signal.SIG_IGN)  # or the shell around it would say it ended
        run("sync")
        run("systemctl", "reboot")
        time.sleep(PATIENCE_S)
        raise AssertionError("it was not started anew")
    package_strangers.plug_in()
    booted()
    scale = scales(VESSEL + 5000)
    package_strangers.others(str(state()["batch"]["id"]))
    package_strangers.others_here()
    killed(scale)
    stopped()
    unplugged(scale)
    full(scale)
    printed()
    upgraded(following)
    weigh(scale, 3, scale.weight + 2000)
    until(lambda: state()["batch"]["status"] == "closed", state)
    say("the batch was finished by the newer one")
    doctored()
    logged()
    removed()


if __name__ == "__main__":
    try:
        main(*sys.argv[1:])
    except BaseException:  # noqa: BLE001 - whatever it is, the machine must end
        traceback.print_exc(file=sys.stdout)
        print(run("systemctl", "status", "--no-pager", "--lines=0", UNIT, check=False))
        print(run("journalctl", "--no-pager", "--output", "cat", "-n", "60", check=False)[-8000:])
        sys.stdout.flush()
        os._exit(1)
    sys.stdout.flush()
    os._exit(0)
