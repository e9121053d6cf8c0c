"""What is tested in the virtual machine, as its root: the daemon runs as a user without rights.

One start of the daemon with three scales: one through hidraw, one through libusb, one on a serial
adapter. Lines that begin with ``GUEST`` are told, with ``HOST`` asked of the host's side.
"""

from __future__ import annotations

import contextlib
import grp
import json
import os
import re
import signal
import stat
import subprocess
import sys
import threading
import time
import traceback
import urllib.request
from collections.abc import Callable
from decimal import Decimal
from pathlib import Path
from typing import Any

import gadget

from weighd_drivers.usb_find import Wanted, fresh_backend, scales
from weighd_drivers.usb_hidraw import RULE_PLACE, Hidraw, nodes, open_node, udev_rule

USER = 4711
HOME = Path("/run/weighd-test")
RULES = Path("/etc/udev/rules.d")
ADAPTER = "WEIGHD-VM-LINE"
#: How long the daemon may take to start, seconds; there is no KVM, and others may be busy.
START_S = 300
BEGAN = time.monotonic()
CONFIG = f"""
[station]
name = "machine"
[scales.raw]
driver = "usb"
serial = "WEIGHD-VM-0"
via = "hidraw"
[scales.lib]
driver = "usb"
id = "1209:0002"
serial = "WEIGHD-VM-1"
via = "libusb"
max_g = "6000"
[scales.line]
driver = "serial"
port = "serial:{ADAPTER}"
baud = 2400
data_bits = 7
parity = "even"
max_g = "6000"
"""


def say(text: str) -> None:
    """Tell it, with the time since the start."""
    print(f"GUEST {time.monotonic() - BEGAN:6.1f} s  {text}", flush=True)


def run(*command: str) -> str:
    """A command of the system; what it printed."""
    return subprocess.run(command, check=True, capture_output=True, text=True).stdout


def ask(what: str) -> None:
    """Ask the host's side to do something."""
    print(f"\nHOST {what}", flush=True)


class Daemon:
    """``weighd serve`` as a user who is in the group dialout and has no other right."""

    def __init__(self) -> None:
        group = grp.getgrnam("dialout").gr_gid
        HOME.mkdir()
        os.chown(HOME, USER, USER)
        (HOME / "formulas").mkdir()
        (HOME / "weighd.toml").write_text(CONFIG, "utf-8")
        self.log = HOME / "log"
        with self.log.open("w") as log:
            self.process = subprocess.Popen(
                [sys.executable, "-m", "weighd", "serve", "--config", "weighd.toml"],
                cwd=HOME, stdout=subprocess.PIPE, stderr=log, text=True,
                user=USER, group=USER, extra_groups=[group],
                env={**os.environ, "HOME": str(HOME), "PYTHONFAULTHANDLER": "1"},
            )  # fmt: skip
        assert self.process.stdout is not None
        # One that does not come up says where it hangs.
        impatient = threading.Timer(START_S, self.process.send_signal, [signal.SIGABRT])
        impatient.start()
        found = re.search(r"http://\S+", self.process.stdout.readline())
        impatient.cancel()
        assert found, self.log.read_text()
        self.address = found[0].rstrip("/")

    def scale(self, name: str) -> dict[str, Any]:
        """A scale as the station shows it."""
        with urllib.request.urlopen(f"{self.address}/api/scales", timeout=10) as answer:
            return dict(json.load(answer)["scales"][name])

    def until(
        self, name: str, what: Callable[[dict[str, Any]], object], seconds: float = 60
    ) -> dict[str, Any]:
        """A scale once ``what`` holds of it."""
        end = time.monotonic() + seconds
        while not what(shown := self.scale(name)):
            assert self.process.poll() is None, self.log.read_text()
            assert time.monotonic() < end, f"{name} stays {shown}\n{self.log.read_text()[-3000:]}"
            time.sleep(0.1)
        return shown

    def live(self, name: str, grams: str) -> dict[str, Any]:
        """The scale once it shows an amount."""
        return self.until(name, lambda one: one["reading"] and one["reading"]["grams"] == grams)

    def lost(self, name: str) -> str:
        """Why the scale is lost, once it is."""
        return str(self.until(name, lambda one: one["link"] == "lost" and one["why"])["why"])


def prepare() -> None:
    """The guest as a machine that has just been started, with udev and without the rule."""
    for folder in {*Path(sys.executable).resolve().parents, *Path(__file__).parents}:
        if folder.stat().st_mode & 0o005 != 0o005:
            folder.chmod(0o755)  # in the guest's own layer: an environment below /root
    (RULES / Path(RULE_PLACE).name).unlink(missing_ok=True)
    if not gadget.GADGETS.exists():
        run("mount", "-t", "configfs", "none", str(gadget.CONFIGFS))
    run("/lib/systemd/systemd-udevd", "--daemon")
    run("udevadm", "trigger", "--action=add", "--subsystem-match=usb", "--subsystem-match=tty")


def hidraw_of(serial: str) -> Path | None:
    """The node of a device in /dev, if the kernel shows one."""
    for one in Path("/sys/class/hidraw").glob("*"):
        with contextlib.suppress(FileNotFoundError):  # libusb took it from the kernel just now
            if f"HID_UNIQ={serial}\n" in (one / "device/uevent").read_text():
                return Path("/dev") / one.name
    return None


def rights(path: Path | None) -> tuple[str, str]:
    """Mode and group of a node."""
    assert path is not None
    about = path.stat()
    return stat.filemode(about.st_mode), grp.getgrgid(about.st_gid).gr_name


def permission(daemon: Daemon, other: gadget.Gadget) -> None:
    """Refused without the rule; with it the scales may be read and nothing else may."""
    why = daemon.lost("raw")
    assert "No permission" in why and "weighd scales --rule" in why, why
    why = daemon.lost("lib")
    printed = re.search(r"SUBSYSTEM==.*?uaccess\"", why)
    assert "No permission" in why and printed, why
    say("refused without the rule, and told what to do")
    Path(RULE_PLACE).write_text(udev_rule(), "utf-8")
    (RULES / "71-by-hand.rules").write_text(printed[0] + "\n", "utf-8")
    run("udevadm", "control", "--reload")
    run("udevadm", "trigger", "--subsystem-match=hidraw")
    run("udevadm", "trigger", "--subsystem-match=usb")
    run("udevadm", "settle", "--timeout=60")
    assert rights(hidraw_of("WEIGHD-VM-0")) == ("crw-rw----", "dialout")
    assert rights(hidraw_of(other.serial)) == ("crw-------", "root")
    daemon.live("raw", "123.4")
    daemon.live("lib", "567.8")
    assert hidraw_of("WEIGHD-VM-1") is None  # libusb took it from the kernel
    say("with the rule both are read, and what is no scale stays shut")


def plugs(daemon: Daemon, scales: dict[str, gadget.Gadget]) -> None:
    """Unplugged is told, replugged is found, and what is shown then is new."""
    for name, scale in scales.items():
        for grams in ("200.5", "300.5"):
            scale.unplug()
            began = time.monotonic()
            why = daemon.lost(name)
            assert "unplugged" in why or "plugged in" in why, why
            told = time.monotonic() - began
            scale.weight = int(Decimal(grams) * 10)
            scale.plug()
            began = time.monotonic()
            daemon.live(name, grams)
            say(
                f"{name}: unplugged told in {told:.1f} s, found in {time.monotonic() - began:.1f} s"
            )


def told(daemon: Daemon, scale: gadget.Telling) -> None:
    """What the scale says of itself is asked for, and counts where nothing is configured."""
    assert daemon.scale("raw")["max_g"] == "3000", daemon.scale("raw")
    assert daemon.scale("lib")["max_g"] == "6000", daemon.scale("lib")
    # Max and attributes, each time it was opened; statistics and texts are nobody's business.
    assert set(scale.asked) == {5, 1}, scale.asked
    assert not scale.sent, scale.sent
    say(f"raw: Max as it says it; asked {len(scale.asked)} times, and nothing was sent")


def told_without_ids(scale: gadget.Telling) -> None:
    """Reports without ids, through both ways, in this process."""
    end = time.monotonic() + 20
    while not (found := list(nodes(Hidraw(), Wanted(serial=scale.serial)))):
        assert time.monotonic() < end, "hidraw does not show it"
        time.sleep(0.1)
    for way, one in (
        ("hidraw", open_node(Hidraw(), found[0])),
        ("libusb", next(scales(fresh_backend(), Wanted(serial=scale.serial)))),
    ):
        assert dict(one.facts) == {"max_g": "6000"}, one.facts
        assert one.read(5000)[:2] == bytes([2, 0xFF])
        one.close()
        say(f"{way}: Max in a report without an id")


def plugged(daemon: Daemon) -> str:
    """Plug the adapter in, and have the scale behind it send once its port is open; the port."""
    ask(f"plug {ADAPTER}")
    daemon.until("line", lambda one: one["link"] != "lost")
    ask("send")
    return str(daemon.live("line", "432.1")["what"].split()[-1])


def line(daemon: Daemon) -> None:
    """The serial adapter: framing, unplugged, and back under another name."""
    assert "plugged in" in daemon.lost("line")
    first = plugged(daemon)
    settings = run("stty", "-F", first, "-a")
    for one in ("speed 2400", "cs7", "parenb", "-parodd", "-cstopb"):
        assert one in settings, settings
    held = os.open(first, os.O_RDONLY | os.O_NOCTTY | os.O_NONBLOCK)  # so its name is not free
    ask("unplug")
    why = daemon.lost("line")
    assert "plugged in" in why, why
    again = plugged(daemon)
    os.close(held)
    assert again != first
    say(f"line: 7 bits, even parity at {first}; unplugged told, found again at {again}")


def main() -> None:
    """Everything, in order."""
    say(f"here, {Path('/proc/uptime').read_text().split()[0]} s after the kernel")
    prepare()
    say("udev is up")
    attributes, limit = bytes([1, 4, 2]), bytes.fromhex("050200b80b")
    raw = gadget.Telling(0, gadget.SCALE, {1: attributes, 5: limit})
    lib = gadget.HidGadget(1, product=2, packet=6)
    other = gadget.HidGadget(2, gadget.OTHER, product=3)
    raw.weight, lib.weight = 1234, 5678
    for one in (raw, lib, other):
        one.plug()
    say("devices are plugged in")
    daemon = Daemon()
    say("the daemon is up")
    try:
        permission(daemon, other)
        plugs(daemon, {"raw": raw, "lib": lib})
        told(daemon, raw)
        line(daemon)
        for name in ("raw", "lib"):
            shown = daemon.until(name, lambda one: one["readings"] > 20)
            assert shown["rejected"] == 0, shown
            say(f"{name}: {shown['readings']} readings, 0 rejected")
        shown = daemon.until("line", lambda one: one["readings"] > 20)
        # A line may be torn where the port was opened, twice; no more than these.
        assert shown["rejected"] <= 2, shown
        say(f"line: {shown['readings']} readings, {shown['rejected']} torn at opening")
    except BaseException:
        # Whether it still runs, and what it said last: a daemon that died resets connections.
        time.sleep(1)
        say(f"the daemon ended with {daemon.process.poll()}; its log:")
        print(daemon.log.read_text()[-6000:], flush=True)
        raise
    finally:
        daemon.process.send_signal(signal.SIGTERM)
    code = daemon.process.wait(60)
    assert code == 0, daemon.log.read_text()
    end = time.monotonic() + 20
    while hidraw_of("WEIGHD-VM-1") is None:
        assert time.monotonic() < end, "the kernel did not get the scale back from libusb"
        time.sleep(0.1)
    say("ended with 0, and the kernel has its scale back")
    other.unplug()
    bare = gadget.Telling(
        3, gadget.BARE, {0: limit[1:3] + b"\x70\x17"}, product=4, controller=2, id_and_status=b""
    )
    bare.plug()
    told_without_ids(bare)


if __name__ == "__main__":
    try:
        main()
    except BaseException:  # noqa: BLE001 - whatever it is, the machine must end
        traceback.print_exc(file=sys.stdout)
        print(run("dmesg")[-6000:])
        sys.stdout.flush()
        os._exit(1)
    os._exit(0)
