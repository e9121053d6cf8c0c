"""A USB scale through Linux's hidraw: no root, no libusb, and nothing taken from the kernel.

The report descriptor is read from sysfs, which needs no permission, so that a scale that may not
be opened is known to be one all the same. After the kernel's *hidraw* documentation.
"""

from __future__ import annotations

import errno
import fcntl
import os
import select
from collections.abc import Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from functools import partial
from importlib import resources
from pathlib import Path

from weighd_drivers.hid_facts import facts_of
from weighd_drivers.usb_find import AbsentError, Wanted, understood

CLASS = Path("/sys/class/hidraw")
DEV = Path("/dev")
#: Longest report the kernel hands out (HID_MAX_BUFFER_SIZE, from memory).
LONGEST_REPORT = 16384
#: Where the shipped rule goes: before 73, where the rights of whoever is logged in are set.
RULE_PLACE = "/etc/udev/rules.d/70-weighd.rules"
_USB = "0003"


def udev_rule() -> str:
    """The shipped udev rule, with what it does said in it."""
    return (resources.files("weighd_drivers") / "70-weighd.rules").read_text("utf-8")


class Hidraw:
    """The kernel's hidraw, as far as it is needed; a test gives its own."""

    def __init__(self, nodes: Path = CLASS, dev: Path = DEV) -> None:
        self.nodes, self.dev = nodes, dev

    def open(self, path: Path) -> int:
        """A node, only to be read: a station that sends nothing asks for no more."""
        return os.open(path, os.O_RDONLY | os.O_NONBLOCK | os.O_CLOEXEC)

    def read(self, fd: int) -> bytes:
        """One report; raises ``OSError`` where the scale is gone."""
        return os.read(fd, LONGEST_REPORT)

    def feature(self, fd: int, report: int, size: int) -> bytes:
        """A feature report of ``size`` bytes, with its id before them where it has one.

        HIDIOCGFEATURE: for a report without an id, usbhid leaves the first byte of the buffer at 0
        and counts it (from memory).
        """
        answer = bytearray(1 + size)
        answer[0] = report
        request = 0xC000_4807 | len(answer) << 16
        got = bytes(answer[: fcntl.ioctl(fd, request, answer)])
        return got if report else got[1:]


@dataclass(frozen=True, slots=True)
class Node:
    """A scale that hidraw shows, not opened. ``device`` is USB's name of it: ``1-2.3``."""

    path: Path
    descriptor: bytes
    id: str
    serial: str
    name: str
    device: str

    @property
    def what(self) -> str:
        """What it calls itself."""
        return f"{self.name or 'USB scale'} ({self.id})"

    @property
    def settings(self) -> dict[str, str]:
        """What to write to mean this one."""
        return {"id": self.id} | ({"serial": self.serial} if self.serial else {})


@dataclass
class HidrawScale:
    """An open scale, until :meth:`close`."""

    kernel: Hidraw
    fd: int
    descriptor: bytes
    what: str
    facts: Mapping[str, str] = field(default_factory=dict)

    def read(self, timeout_ms: int) -> bytes:
        """The next report; empty when none came in time. Raises ``OSError`` when it is gone."""
        waiting = select.poll()
        waiting.register(self.fd, select.POLLIN)
        if not waiting.poll(timeout_ms):
            return b""
        try:
            data = self.kernel.read(self.fd)
        except BlockingIOError:
            return b""
        if not data:
            # The kernel passes on no empty report: an end of file, and it would go on for ever.
            raise OSError(errno.ENODEV, os.strerror(errno.ENODEV))
        return data

    def close(self) -> None:
        """Let go."""
        with suppress(OSError):
            os.close(self.fd)


def nodes(kernel: Hidraw, wanted: Wanted) -> Iterator[Node]:
    """Every scale that hidraw shows and that is wanted, in the kernel's order."""
    for place in sorted(kernel.nodes.glob("hidraw*"), key=lambda one: (len(one.name), one.name)):
        try:
            said = _uevent((place / "device/uevent").read_text("utf-8", "replace"))
            descriptor = (place / "device/report_descriptor").read_bytes()
            device = (place / "device").resolve().parent.name.partition(":")[0]
        except OSError:
            continue  # it was unplugged while being looked at
        bus, _, ids = said.get("HID_ID", "").partition(":")
        vendor, _, product = ids.lower().partition(":")
        name = f"{vendor[-4:]}:{product[-4:]}"
        serial = said.get("HID_UNIQ", "")
        if (
            bus == _USB
            and wanted.id.lower() in {"", name}
            and wanted.serial in {"", serial}
            and understood(descriptor) is not None
        ):
            yield Node(
                kernel.dev / place.name, descriptor, name, serial, said.get("HID_NAME", ""), device
            )


def open_node(kernel: Hidraw, node: Node) -> HidrawScale:
    """Take hold of a scale. Raises :class:`AbsentError` where that is refused."""
    try:
        fd = kernel.open(node.path)
    except OSError as error:
        raise _trouble(node, error) from error
    read = understood(node.descriptor)
    try:
        facts = facts_of(read[0] if read else (), partial(kernel.feature, fd))
    except OSError as error:  # gone again
        os.close(fd)
        raise _trouble(node, error) from error
    return HidrawScale(kernel, fd, node.descriptor, node.what, facts)


def _uevent(text: str) -> dict[str, str]:
    return {key: value for key, _, value in (line.partition("=") for line in text.splitlines())}


def _trouble(node: Node, error: OSError) -> AbsentError:
    if error.errno in {errno.EACCES, errno.EPERM}:
        return AbsentError(
            f"No permission for the USB scale at {node.path}. Give it once:"
            f" weighd scales --rule | sudo tee {RULE_PLACE}"
            " ; add the user that runs weighd to the group dialout, and plug the scale in anew.",
            denied=True,
        )
    if error.errno == errno.ENOENT:
        # sysfs is ahead of /dev just after plugging in.
        return AbsentError(f"There is no {node.path} for the USB scale yet.", denied=True)
    return AbsentError(f"The USB scale at {node.path} does not answer ({error}).")
