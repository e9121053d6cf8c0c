"""Linux's hidraw as it exists only here: a tree like sysfs, and nodes that are socket pairs.

A pair of SOCK_SEQPACKET keeps reports apart, as hidraw does, and can be polled.
"""

from __future__ import annotations

import errno
import os
import socket
from dataclasses import dataclass, field
from pathlib import Path

from weighd_drivers.usb_hidraw import Hidraw


@dataclass
class Plug:
    """One scale, plugged in."""

    number: int
    device: str
    open_errors: list[int] = field(default_factory=list)
    read_errors: list[int] = field(default_factory=list)
    features: dict[int, bytes | int] = field(default_factory=dict)
    asked: list[tuple[int, int]] = field(default_factory=list)
    scale: socket.socket | None = None
    fd: int = -1
    opened: int = 0

    def send(self, *reports: bytes) -> None:
        """What the scale reports, once it is open."""
        assert self.scale is not None
        for one in reports:
            self.scale.send(one)

    def fails(self, number: int) -> None:
        """From now on a read raises: a report makes the node readable, as hanging up does."""
        self.read_errors.append(number)
        self.send(b"\0")


class FakeHidraw(Hidraw):
    """``plug`` and ``unplug`` change the tree; everything but the system calls is the real code."""

    def __init__(self, place: Path) -> None:
        super().__init__(place / "class", place / "dev")
        self.place = place
        self.plugs: dict[str, Plug] = {}
        self.nodes.mkdir()

    def plug(
        self,
        descriptor: bytes,
        *,
        number: int = 0,
        serial: str = "WEIGHD-TEST-0001",
        ids: str = "0003:00001209:00000001",
    ) -> Plug:
        """Plug a device in at a port of its own."""
        device = f"1-{number + 1}"
        hid = self.place / f"usb1/{device}/{device}:1.0/{ids[:4]}:1209:0001.{number:04d}"
        hid.mkdir(parents=True)
        (hid / "report_descriptor").write_bytes(descriptor)
        (hid / "uevent").write_text(
            f"DRIVER=hid-generic\nHID_ID={ids}\nHID_NAME=weighd tests Virtual scale\n"
            f"HID_PHYS=usb-dummy-1/input0\nHID_UNIQ={serial}\n",
            "utf-8",
        )
        node = self.nodes / f"hidraw{number}"
        node.mkdir()
        (node / "device").symlink_to(hid)
        self.plugs[node.name] = Plug(number, device)
        return self.plugs[node.name]

    def unplug(self, plug: Plug) -> None:
        """Take the node out of the tree; what a read then raises is the test's to say."""
        node = self.nodes / f"hidraw{plug.number}"
        (node / "device").unlink()
        node.rmdir()
        del self.plugs[node.name]

    def open(self, path: Path) -> int:
        assert path.parent == self.dev
        plug = self.plugs.get(path.name)
        if plug is None:
            raise OSError(errno.ENOENT, os.strerror(errno.ENOENT))
        if plug.open_errors:
            number = plug.open_errors.pop(0)
            raise OSError(number, os.strerror(number))
        plug.scale, near = socket.socketpair(socket.AF_UNIX, socket.SOCK_SEQPACKET)
        near.setblocking(False)
        plug.fd = near.detach()
        plug.opened += 1
        self._by_fd = {plug.fd: plug}
        return plug.fd

    def read(self, fd: int) -> bytes:
        plug = self._by_fd[fd]
        if plug.read_errors:
            number = plug.read_errors.pop(0)
            raise OSError(number, os.strerror(number))
        return super().read(fd)

    def feature(self, fd: int, report: int, size: int) -> bytes:
        plug = self._by_fd[fd]
        plug.asked.append((report, size))
        answer = plug.features.get(report, errno.EPIPE)
        if isinstance(answer, int):
            raise OSError(answer, os.strerror(answer))
        return answer
