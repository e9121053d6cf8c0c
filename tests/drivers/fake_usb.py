"""A USB bus that exists only here: a libusb backend with scripted devices.

The real pyusb runs on it. What a device answers to a read is a list: bytes, or an ``errno``.
"""

from __future__ import annotations

import array
import errno
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from types import SimpleNamespace
from typing import Any

import usb.backend
import usb.core

INTERRUPT_IN = 0x81


def usb_error(number: int) -> usb.core.USBError:
    """What pyusb raises for an errno."""
    if number == errno.ETIMEDOUT:
        return usb.core.USBTimeoutError("Operation timed out", -7, number)
    return usb.core.USBError("scripted", -4 if number == errno.ENODEV else -1, number)


@dataclass
class FakeDevice:
    """One device. ``reads`` is what comes from the interrupt endpoint; then only timeouts.

    ``features`` answers feature reports by their id, others with a stall; ``asked`` keeps id and
    length of each question.
    """

    descriptor: bytes = b""
    reads: list[bytes | int] = field(default_factory=list)
    vendor: int = 0x1209
    product: int = 0x0001
    serial: str = "WEIGHD-TEST-0001"
    device_class: int = 0
    interface_class: int = 3
    subclass: int = 0
    kernel_driver: bool = True
    packet: int = 8
    features: dict[int, bytes | int] = field(default_factory=dict)
    asked: list[tuple[int, int]] = field(default_factory=list)
    open_errors: list[int] = field(default_factory=list)
    claim_error: int = 0
    port: int = 1
    log: list[str] = field(default_factory=list)
    hold: Callable[[], None] = lambda: time.sleep(0.01)

    @property
    def hid(self) -> bytes:
        """The HID descriptor beside the interface, with the length of the report descriptor."""
        return bytes([9, 0x21, 0x11, 1, 0, 1, 0x22]) + len(self.descriptor).to_bytes(2, "little")


class FakeBackend(usb.backend.IBackend):  # type: ignore[misc] # pyusb has no types
    """A bus as it is at the moment: ``devices`` may change between searches."""

    def __init__(self, devices: list[FakeDevice]) -> None:
        super().__init__()
        self.devices = devices

    def enumerate_devices(self) -> Iterator[FakeDevice]:
        return iter(list(self.devices))

    def get_parent(self, dev: FakeDevice) -> None:
        return None

    def get_device_descriptor(self, dev: FakeDevice) -> Any:
        return SimpleNamespace(
            bLength=18, bDescriptorType=1, bcdUSB=0x200, bDeviceClass=dev.device_class,
            bDeviceSubClass=0, bDeviceProtocol=0, bMaxPacketSize0=64, idVendor=dev.vendor,
            idProduct=dev.product, bcdDevice=0x100, iManufacturer=0, iProduct=2,
            iSerialNumber=3, bNumConfigurations=1, address=dev.port + 1, bus=1,
            port_number=dev.port, port_numbers=(dev.port,), speed=2,
        )  # fmt: skip

    def get_configuration_descriptor(self, dev: FakeDevice, config: int) -> Any:
        if config:
            raise IndexError("one configuration")
        return SimpleNamespace(
            bLength=9, bDescriptorType=2, wTotalLength=34, bNumInterfaces=1,
            bConfigurationValue=1, iConfiguration=0, bmAttributes=0x80, bMaxPower=50,
            extra_descriptors=[],
        )  # fmt: skip

    def get_interface_descriptor(self, dev: FakeDevice, intf: int, alt: int, config: int) -> Any:
        if intf or alt:
            raise IndexError("one interface")
        return SimpleNamespace(
            bLength=9, bDescriptorType=4, bInterfaceNumber=0, bAlternateSetting=0,
            bNumEndpoints=1, bInterfaceClass=dev.interface_class,
            bInterfaceSubClass=dev.subclass, bInterfaceProtocol=0, iInterface=0,
            extra_descriptors=list(dev.hid),
        )  # fmt: skip

    def get_endpoint_descriptor(
        self, dev: FakeDevice, ep: int, intf: int, alt: int, config: int
    ) -> Any:
        return SimpleNamespace(
            bLength=7, bDescriptorType=5, bEndpointAddress=INTERRUPT_IN, bmAttributes=3,
            wMaxPacketSize=dev.packet, bInterval=10, bRefresh=0, bSynchAddress=0,
            extra_descriptors=[],
        )  # fmt: skip

    def open_device(self, dev: FakeDevice) -> FakeDevice:
        if dev.open_errors:
            raise usb_error(dev.open_errors.pop(0))
        dev.log.append("open")
        return dev

    def close_device(self, dev_handle: FakeDevice) -> None:
        dev_handle.log.append("close")

    def get_configuration(self, dev_handle: FakeDevice) -> int:
        return 1

    def claim_interface(self, dev_handle: FakeDevice, intf: int) -> None:
        if dev_handle.claim_error or dev_handle.kernel_driver:
            raise usb_error(dev_handle.claim_error or errno.EBUSY)
        dev_handle.log.append("claim")

    def release_interface(self, dev_handle: FakeDevice, intf: int) -> None:
        dev_handle.log.append("release")

    def is_kernel_driver_active(self, dev_handle: FakeDevice, intf: int) -> bool:
        return dev_handle.kernel_driver

    def detach_kernel_driver(self, dev_handle: FakeDevice, intf: int) -> None:
        dev_handle.kernel_driver = False
        dev_handle.log.append("detach")

    def attach_kernel_driver(self, dev_handle: FakeDevice, intf: int) -> None:
        dev_handle.kernel_driver = True
        dev_handle.log.append("attach")

    def ctrl_transfer(
        self, dev_handle: FakeDevice, bmRequestType: int, bRequest: int, wValue: int,  # noqa: N803
        wIndex: int, data: array.array[int], timeout: int,  # noqa: N803
    ) -> int:  # fmt: skip
        match bmRequestType, bRequest, wValue >> 8:
            case 0x81, 6, 0x22:
                answer: bytes | int = dev_handle.descriptor
            case 0x80, 6, 3:
                texts = {0: b"\x09\x04", 2: "Virtual scale".encode("utf-16-le")}
                texts[3] = dev_handle.serial.encode("utf-16-le")
                text = texts[wValue & 0xFF]
                answer = bytes([len(text) + 2, 3]) + text
            case 0xA1, 1, 3:
                dev_handle.asked.append((wValue & 0xFF, len(data)))
                answer = dev_handle.features.get(wValue & 0xFF, errno.EPIPE)
            case _:
                answer = errno.EPIPE
        if isinstance(answer, int):
            raise usb_error(answer)
        got = answer[: len(data)]
        data[: len(got)] = array.array("B", got)
        return len(got)

    def intr_read(
        self, dev_handle: FakeDevice, ep: int, intf: int, buff: array.array[int], timeout: int
    ) -> int:
        if not dev_handle.reads:
            dev_handle.hold()
            raise usb_error(errno.ETIMEDOUT)
        got = dev_handle.reads.pop(0)
        if isinstance(got, int):
            raise usb_error(got)
        buff[: len(got)] = array.array("B", got)
        return len(got)
