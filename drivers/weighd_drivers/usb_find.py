"""Finding a USB scale and taking hold of it: by what it describes, not by who made it."""

from __future__ import annotations

import errno
import math
from collections.abc import Container, Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Any

import usb.backend.libusb1
import usb.core
import usb.util

from weighd.domain.errors import ScaleError
from weighd_drivers.hid_descriptor import LONGEST, DescriptorError, HidField, parse, report_bytes
from weighd_drivers.hid_facts import Ask, facts_of
from weighd_drivers.hid_layout import WeightReport, weight_report

SYSFS = Path("/sys/bus/usb/devices")
_HUB, _HID = 9, 3
#: Keyboards and mice say so in subclass and protocol; they are left alone.
_BOOT = 1
_GET_DESCRIPTOR, _REPORT_DESCRIPTOR = 6, 0x2200
_GET_REPORT, _FEATURE = 1, 0x0300
_CONTROL_MS = 1000


class AbsentError(Exception):
    """No scale could be opened; ``str`` says why in a cook's words. ``denied``: it may be that
    the permission is only being set, just after plugging in."""

    def __init__(self, why: str, *, denied: bool = False) -> None:
        super().__init__(why)
        self.denied = denied


@dataclass(frozen=True, slots=True)
class Wanted:
    """Which scale: ``id`` as ``vvvv:pppp`` and ``serial``; empty takes the first there is."""

    id: str = ""
    serial: str = ""


@cache
def _library() -> Any:
    """A backend with the system's libusb, else with that of the extra ``usb``, else ``None``."""
    found = usb.backend.libusb1.get_backend()
    if found is None:
        try:
            import libusb_package  # noqa: PLC0415 - optional, and only where needed
        except ImportError:
            return None
        found = libusb_package.get_libusb1_backend()
    return found


def fresh_backend() -> Any:
    """A backend with a libusb context of its own; ``None`` where there is no libusb.

    A context built with udev never sees a device plugged in later when no udevd runs (libusb
    issue 1012, open when this was written): a new one for each search does.
    """
    found = _library()
    return None if found is None else type(found)(found.lib)


@dataclass
class UsbScale:
    """An open scale: its interface is claimed until :meth:`close`."""

    device: Any
    interface: int
    endpoint: int
    packet: int
    descriptor: bytes
    longest: int
    detached: bool
    what: str
    settings: Mapping[str, str]
    facts: Mapping[str, str] = field(default_factory=dict)
    #: Outlives the device: libusb's context must not end before the device is given back to it.
    backend: Any = None

    def read(self, timeout_ms: int) -> bytes:
        """The next report; empty when none came in time, and for a transfer without bytes.

        Raises pyusb's error, an ``OSError``, when it is gone.
        """
        whole = math.ceil(self.longest / self.packet) * self.packet
        try:
            return bytes(self.device.read(self.endpoint, whole, timeout_ms))
        except usb.core.USBTimeoutError:  # a child of USBError
            return b""

    def close(self) -> None:
        """Let go, and give the interface back to the kernel if it was taken from it."""
        _let_go(self.device, self.interface, attach=self.detached)
        self.device = None
        self.backend = None


def scales(
    backend: Any, wanted: Wanted, sysfs: Path = SYSFS, but: Container[str] = ()
) -> Iterator[UsbScale]:
    """Every scale that is wanted, open; the caller closes it.

    ``but`` names devices that are known already (``1-2.3``) and left alone. Raises
    :class:`AbsentError` at the end where something stood in the way.
    """
    trouble: AbsentError | None = None
    device = None
    try:
        for device in usb.core.find(find_all=True, backend=backend):
            if device.bDeviceClass == _HUB or not _is(device, wanted) or _name(device) in but:
                continue
            for interface in _hid_interfaces(device):
                try:
                    found = _opened(device, interface, wanted, sysfs)
                except usb.core.USBError as error:
                    trouble = _trouble(device, error)
                    continue
                if found is not None:
                    found.backend = backend
                    yield found
    except usb.core.USBError as error:
        trouble = AbsentError(f"USB devices cannot be listed ({error}).")
    finally:
        del device  # before the backend, which its context would end with
    if trouble is not None:
        raise trouble


def _is(device: Any, wanted: Wanted) -> bool:
    return not wanted.id or _id(device) == wanted.id.lower()


def _id(device: Any) -> str:
    return f"{device.idVendor:04x}:{device.idProduct:04x}"


def _name(device: Any) -> str:
    """The kernel's name of a device, by bus and ports; empty where the ports are not told."""
    ports = ".".join(str(port) for port in device.port_numbers or ())
    return f"{device.bus}-{ports}" if ports else ""


def _hid_interfaces(device: Any) -> list[Any]:
    """Interfaces of a device that may be a scale; reading them opens nothing."""
    try:
        configuration = device[0]
    except (usb.core.USBError, IndexError):
        return []
    return [
        one
        for one in configuration
        if one.bInterfaceClass == _HID
        and one.bInterfaceSubClass != _BOOT
        and one.bAlternateSetting == 0
    ]


def _opened(device: Any, interface: Any, wanted: Wanted, sysfs: Path) -> UsbScale | None:
    """The scale behind an interface, or ``None`` where it is none or not the one wanted."""
    number = interface.bInterfaceNumber
    known = _peeked(device, number, sysfs)
    if known is not None and understood(known) is None:
        return None  # not a scale: its driver is not disturbed
    try:
        device.get_active_configuration()  # opens it: a refusal is told here
        serial = _string(device, device.iSerialNumber)
        if wanted.serial and serial != wanted.serial:
            _let_go(device, number, attach=False)
            return None
    except usb.core.USBError:
        _let_go(device, number, attach=False)
        raise
    detached = False
    try:
        detached = _detach(device, number)
        usb.util.claim_interface(device, number)
        descriptor = bytes(
            device.ctrl_transfer(
                0x81, _GET_DESCRIPTOR, _REPORT_DESCRIPTOR, number, _size(interface), _CONTROL_MS
            )
        )
        read = understood(descriptor)
        endpoint = next((one for one in interface if one.bEndpointAddress & 0x80), None)
        if read is None or endpoint is None:
            _let_go(device, number, attach=detached)
            return None
        fields, _ = read
        return UsbScale(
            device,
            number,
            endpoint.bEndpointAddress,
            max(1, endpoint.wMaxPacketSize & 0x7FF),
            descriptor,
            _longest(fields),
            detached,
            f"{_string(device, device.iProduct) or 'USB scale'} ({_id(device)})",
            {"id": _id(device)} | ({"serial": serial} if serial else {}),
            facts_of(fields, _asking(device, number)),
        )
    except usb.core.USBError:
        _let_go(device, number, attach=detached)
        raise


def understood(descriptor: bytes) -> tuple[tuple[HidField, ...], WeightReport] | None:
    """What a report descriptor says, ``None`` where it is not that of a scale."""
    try:
        fields = parse(descriptor)
        return fields, weight_report(fields)
    except (DescriptorError, ScaleError):
        return None


def _longest(fields: tuple[HidField, ...]) -> int:
    """The bytes of the longest input report, with its id: another may be longer than the weight."""
    inputs = {one.report for one in fields if one.kind == "input"}
    return max(report_bytes(fields, "input", one) + bool(one) for one in inputs)


def _peeked(device: Any, number: int, sysfs: Path) -> bytes | None:
    """The report descriptor as the kernel shows it, without touching the device; Linux only."""
    name = _name(device)
    if not name:
        return None
    for one in sysfs.glob(f"{name}:*.{number}/*/report_descriptor"):
        try:
            return one.read_bytes()
        except OSError:
            continue
    return None


def _detach(device: Any, number: int) -> bool:
    try:
        if not device.is_kernel_driver_active(number):
            return False
        device.detach_kernel_driver(number)
    except NotImplementedError:
        return False  # a system that has no such thing
    return True


def _let_go(device: Any, number: int, *, attach: bool) -> None:
    # An error here means that it is gone: nothing is held, and nothing can be given back.
    with suppress(usb.core.USBError):
        usb.util.release_interface(device, number)
    if attach:
        with suppress(usb.core.USBError, NotImplementedError):
            device.attach_kernel_driver(number)
    usb.util.dispose_resources(device)


def _size(interface: Any) -> int:
    """The length of the report descriptor, as the HID descriptor beside the interface says."""
    extra = bytes(interface.extra_descriptors or b"")
    at = 0
    while at + 9 <= len(extra) and extra[at]:
        if extra[at + 1] == 0x21 and extra[at + 6] == 0x22:
            return min(LONGEST, int.from_bytes(extra[at + 7 : at + 9], "little")) or LONGEST
        at += extra[at]
    return LONGEST


def _string(device: Any, index: int) -> str:
    try:
        return str(usb.util.get_string(device, index) or "") if index else ""
    except ValueError:
        return ""  # no language, no string
    except usb.core.USBError as error:
        if error.errno == errno.ENODEV:
            raise
        return ""  # it names a string that it does not give


def _asking(device: Any, number: int) -> Ask:
    def ask(report: int, size: int) -> bytes:
        length = size + bool(report)
        return bytes(
            device.ctrl_transfer(0xA1, _GET_REPORT, _FEATURE | report, number, length, _CONTROL_MS)
        )

    return ask


def _trouble(device: Any, error: usb.core.USBError) -> AbsentError:
    """What a refused device means, in a cook's words."""
    if error.errno in {errno.EACCES, errno.EPERM}:
        vendor, product = _id(device).split(":")
        return AbsentError(
            f"No permission for the USB device {vendor}:{product}. Add the line"
            f' SUBSYSTEM=="usb", ATTR{{idVendor}}=="{vendor}", ATTR{{idProduct}}=="{product}",'
            ' GROUP="dialout", MODE="0660", TAG+="uaccess" to'
            " /etc/udev/rules.d/70-weighd.rules, add the user that runs weighd to the group"
            " dialout, and plug the scale in anew.",
            denied=True,
        )
    if error.errno == errno.EBUSY:
        return AbsentError(f"Another program is using the USB scale {_id(device)}: close it.")
    return AbsentError(f"The USB device {_id(device)} does not answer ({error}).")
