"""USB devices made of nothing: HID gadgets on the kernel's own emulated host controllers.

As root in the guest. The kernel that reads them is the one that a scale on a cable would meet.
"""

from __future__ import annotations

import errno
import json
import os
import struct
import subprocess
import threading
from itertools import count
from pathlib import Path

CONFIGFS = Path("/sys/kernel/config")
GADGETS = CONFIGFS / "usb_gadget"
_TABLE = Path(__file__).parents[2] / "fixtures/tables/hid.json"
_CHECKS = {one["name"]: one for one in json.loads(_TABLE.read_text("utf-8"))["checks"]}
#: A published open example of a report descriptor of page 0x8D.
SCALE = bytes.fromhex(_CHECKS["hid_descriptor_report_sizes"]["inputs"]["descriptor_hex"])
#: A scale whose reports have no ids, made for the tests: unit, scaling, weight; Max as a feature.
BARE = bytes.fromhex(
    "058d0920a101"
    "0932a1020950a102750895011501250c1951295c8100c009411581257f81020940751027ffff000015008102c0"
    "0934a1020950a102750895011501250c1951295cb100c01581257f0941b102751027ffff000015000940b102c0"
    "c0"
)
#: Something that is no scale: one byte of a page of its own maker's (FF00, from memory).
OTHER = bytes.fromhex("0600ff0901a101150026ff0075089501090181" + "02c0")


class Gadget:
    """A device at a host controller of its own, the first to the third: ``controller``.

    ``weight`` is what it shows, in tenths of a gram.
    """

    #: The function as configfs names it.
    function = "hid.usb0"

    def __init__(self, number: int, *, product: int = 1, controller: int | None = None) -> None:
        self.serial = f"WEIGHD-VM-{number}"
        self.weight = 0
        self._number = number
        self._controller = f"dummy_udc.{number if controller is None else controller}"
        self._place = GADGETS / f"device{number}"
        self._make(product)
        self._plugged = threading.Event()
        self._idle = threading.Event()
        threading.Thread(target=self._weigh, daemon=True).start()

    def plug(self) -> None:
        """Plug it in."""
        self._write("UDC", self._controller)
        self._plugged.set()

    def unplug(self) -> None:
        """Pull it out."""
        self._plugged.clear()
        self._idle.wait(5)
        self._write("UDC", "\n")

    def _make(self, product: int) -> None:
        self._place.mkdir()
        for path in ("strings/0x409", "configs/c.1", f"functions/{self.function}"):
            (self._place / path).mkdir()
        # pid.codes gives vendor 1209, products 0001 to 0010 to whoever tests.
        for path, text in {
            "idVendor": "0x1209", "idProduct": hex(product), "bcdUSB": "0x0200",
            "strings/0x409/serialnumber": self.serial,
            "strings/0x409/manufacturer": "weighd tests",
            "strings/0x409/product": f"Virtual scale {self._number}",
        }.items():  # fmt: skip
            self._write(path, text)
        self._describe()
        link = self._place / "configs/c.1" / self.function
        link.symlink_to(self._place / "functions" / self.function)

    def _write(self, path: str, text: str) -> None:
        (self._place / path).write_text(text)

    def _report(self) -> bytes:
        """Report 3, stable, grams, tenths."""
        return bytes([3, 4, 2, 0xFF]) + self.weight.to_bytes(2, "little")

    def _weigh(self) -> None:
        """Report twenty times a second while it is plugged in."""
        while True:
            self._idle.set()
            self._plugged.wait()
            self._idle.clear()
            # Not waiting: a write hangs for ever once nobody reads any more.
            node = os.open(self._node, os.O_RDWR | os.O_NONBLOCK)
            pause = threading.Event()
            while self._plugged.is_set():
                try:
                    os.write(node, self._report())
                except OSError as error:
                    # Not configured yet, unplugged, or the one before was not fetched yet.
                    if error.errno not in {errno.ESHUTDOWN, errno.EAGAIN}:
                        raise
                pause.wait(0.05)
            os.close(node)

    def _describe(self) -> None:
        raise NotImplementedError

    _node = ""


class HidGadget(Gadget):
    """By the kernel's HID function, which answers every feature report with noughts.

    ``packet`` 6 ends each report of a scale with an empty transfer, 8 does not.
    """

    #: Nodes are numbered in the order in which functions are made.
    _nodes = count()

    def __init__(
        self, number: int, descriptor: bytes = SCALE, *, product: int = 1, packet: int = 8
    ) -> None:
        self._descriptor, self._packet = descriptor, packet
        self._node = f"/dev/hidg{next(self._nodes)}"
        super().__init__(number, product=product)

    def _describe(self) -> None:
        place = f"functions/{self.function}"
        self._write(f"{place}/protocol", "0")
        self._write(f"{place}/subclass", "0")
        self._write(f"{place}/report_length", str(self._packet))
        self._write(f"{place}/no_out_endpoint", "1")
        (self._place / place / "report_desc").write_bytes(self._descriptor)


#: Of functionfs, as in linux/usb/functionfs.h (from memory).
_DESCRIPTORS, _STRINGS, _FULL_AND_HIGH_SPEED, _SETUP = 3, 2, 3, 4
_GET_REPORT_DESCRIPTOR, _GET_FEATURE, _SET_REPORT = (0x81, 6, 0x22), (0xA1, 1, 3), (0x21, 9)


class Telling(Gadget):
    """A scale that answers feature reports: its function is this program, by functionfs.

    ``answers`` are whole answers by report id; to any other question it stalls. ``asked`` are the
    ids it was asked for, and ``sent`` those that it was sent.
    """

    def __init__(
        self,
        number: int,
        descriptor: bytes,
        answers: dict[int, bytes],
        *,
        product: int = 1,
        controller: int | None = None,
        id_and_status: bytes = bytes([3, 4]),
    ) -> None:
        self.function = f"ffs.scale{number}"
        self._mount = Path(f"/run/scale{number}")
        self._node = str(self._mount / "ep1")
        self._descriptor, self._answers, self._begins = descriptor, answers, id_and_status
        self.asked: list[int] = []
        self.sent: list[int] = []
        super().__init__(number, product=product, controller=controller)

    def _report(self) -> bytes:
        return self._begins + super()._report()[2:]

    def _describe(self) -> None:
        self._mount.mkdir()
        name = self.function.partition(".")[2]
        command = ["mount", "-t", "functionfs", name, str(self._mount)]
        subprocess.run(command, check=True)
        self._ep0 = os.open(self._mount / "ep0", os.O_RDWR)
        interface = bytes([9, 4, 0, 0, 1, 3, 0, 0, 0])
        hid = bytes([9, 0x21, 0x11, 1, 0, 1, 0x22]) + len(self._descriptor).to_bytes(2, "little")
        # An interval of 10 ms at full speed and of 8 at high speed.
        speeds = [interface + hid + bytes([7, 5, 0x81, 3, 8, 0, each]) for each in (10, 7)]
        body = struct.pack("<III", _FULL_AND_HIGH_SPEED, 3, 3) + b"".join(speeds)
        os.write(self._ep0, struct.pack("<II", _DESCRIPTORS, 8 + len(body)) + body)
        os.write(self._ep0, struct.pack("<IIII", _STRINGS, 16, 0, 0))
        threading.Thread(target=self._answer, daemon=True).start()

    def _answer(self) -> None:
        """Control transfers, one after the other, whether it is plugged in or not."""
        while event := os.read(self._ep0, 12):
            kind, request, value, _, length, what = struct.unpack("<BBHHHB3x", event)
            if what != _SETUP:
                continue
            answer = None
            if (kind, request, value >> 8) == _GET_REPORT_DESCRIPTOR:
                answer = self._descriptor
            elif (kind, request, value >> 8) == _GET_FEATURE:
                self.asked.append(value & 0xFF)
                answer = self._answers.get(value & 0xFF)
            elif (kind, request) == _SET_REPORT:
                self.sent.append(value & 0xFF)
            # Against the direction of the transfer is how it stalls.
            try:
                if answer is not None:
                    os.write(self._ep0, answer[:length])
                elif kind & 0x80 or length:
                    os.read(self._ep0, 0) if kind & 0x80 else os.write(self._ep0, b"")
                else:
                    os.read(self._ep0, 0)  # SET_IDLE and the like: done
            except OSError as error:
                if error.errno not in {errno.EL2HLT, errno.EIDRM, errno.ESHUTDOWN}:
                    raise
