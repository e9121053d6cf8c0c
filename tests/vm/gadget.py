"""USB devices made of nothing: HID gadgets on the kernel's own emulated host controllers.

As root in the guest. The kernel that reads them is the one that a scale on a cable would meet.
"""

from __future__ import annotations

import errno
import json
import os
import threading
from pathlib import Path

CONFIGFS = Path("/sys/kernel/config")
GADGETS = CONFIGFS / "usb_gadget"
_TABLE = Path(__file__).parents[2] / "fixtures/tables/hid.json"
_CHECKS = {one["name"]: one for one in json.loads(_TABLE.read_text("utf-8"))["checks"]}
#: A published open example of a report descriptor of page 0x8D.
SCALE = bytes.fromhex(_CHECKS["hid_descriptor_report_sizes"]["inputs"]["descriptor_hex"])
#: Something that is no scale: one byte of a page of its own maker's (FF00, from memory).
OTHER = bytes.fromhex("0600ff0901a101150026ff0075089501090181" + "02c0")


class Gadget:
    """A device at a host controller of its own; ``packet`` 6 ends each report of a scale with an
    empty transfer, 8 does not. ``weight`` is what it shows, in tenths of a gram."""

    def __init__(
        self, number: int, descriptor: bytes = SCALE, *, product: int = 1, packet: int = 8
    ) -> None:
        self.serial = f"WEIGHD-VM-{number}"
        self.weight = 0
        self._number = number
        self._place = GADGETS / f"device{number}"
        self._make(descriptor, product, packet)
        # Nodes are numbered in the order in which functions are made.
        self._node = f"/dev/hidg{number}"
        self._plugged = threading.Event()
        self._idle = threading.Event()
        threading.Thread(target=self._weigh, daemon=True).start()

    def plug(self) -> None:
        """Plug it in."""
        self._write("UDC", f"dummy_udc.{self._number}")
        self._plugged.set()

    def unplug(self) -> None:
        """Pull it out."""
        self._plugged.clear()
        self._idle.wait(5)
        self._write("UDC", "\n")

    def _make(self, descriptor: bytes, product: int, packet: int) -> None:
        self._place.mkdir()
        for path in ("strings/0x409", "configs/c.1", "functions/hid.usb0"):
            (self._place / path).mkdir()
        # pid.codes gives vendor 1209, products 0001 to 0010 to whoever tests.
        for path, text in {
            "idVendor": "0x1209", "idProduct": hex(product), "bcdUSB": "0x0200",
            "strings/0x409/serialnumber": self.serial,
            "strings/0x409/manufacturer": "weighd tests",
            "strings/0x409/product": f"Virtual scale {self._number}",
            "functions/hid.usb0/protocol": "0", "functions/hid.usb0/subclass": "0",
            "functions/hid.usb0/report_length": str(packet),
            "functions/hid.usb0/no_out_endpoint": "1",
        }.items():  # fmt: skip
            self._write(path, text)
        (self._place / "functions/hid.usb0/report_desc").write_bytes(descriptor)
        (self._place / "configs/c.1/hid.usb0").symlink_to(self._place / "functions/hid.usb0")

    def _write(self, path: str, text: str) -> None:
        (self._place / path).write_text(text)

    def _weigh(self) -> None:
        """Report 3, stable, grams, tenths, twenty times a second while it is plugged in."""
        while True:
            self._idle.set()
            self._plugged.wait()
            self._idle.clear()
            # Not waiting: a write hangs for ever once nobody reads any more.
            node = os.open(self._node, os.O_RDWR | os.O_NONBLOCK)
            pause = threading.Event()
            while self._plugged.is_set():
                try:
                    os.write(node, bytes([3, 4, 2, 0xFF]) + self.weight.to_bytes(2, "little"))
                except OSError as error:
                    # Not configured yet, unplugged, or the one before was not fetched yet.
                    if error.errno not in {errno.ESHUTDOWN, errno.EAGAIN}:
                        raise
                pause.wait(0.05)
            os.close(node)
