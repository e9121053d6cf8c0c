"""The report descriptor of a HID device: which bits of which report mean what.

After the USB Device Class Definition for Human Interface Devices 1.11, section 6.2.2 (from
memory; checked against a published descriptor). Only what a scale needs: main, global and
local items, report ids, push and pop; long items are skipped. Bounded and total: any bytes give
fields or :class:`DescriptorError`.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace

#: USB lets a control transfer of a descriptor be no longer than this here.
LONGEST = 4096
MOST_FIELDS = 512
MOST_USAGES = 1024
MOST_BITS = 8 * 1024

INPUT, OUTPUT, FEATURE = 0x80, 0x90, 0xB0
_COLLECTION, _END_COLLECTION = 0xA0, 0xC0
_KIND_NAMES = {INPUT: "input", OUTPUT: "output", FEATURE: "feature"}


class DescriptorError(ValueError):
    """The bytes are no report descriptor."""


@dataclass(frozen=True, slots=True)
class HidField:
    """One main item: ``count`` values of ``size`` bits from ``bit`` on.

    ``kind``       ``input``, ``output`` or ``feature``.
    ``report``     the report id; 0 where the device numbers none. Offsets do not count its byte.
    ``usages``     page and usage as one 32-bit number each, in order.
    ``within``     usages of the collections around it, outermost first.
    ``array``      values are indices of ``usages`` that begin at ``least``.
    """

    kind: str
    report: int
    bit: int
    size: int
    count: int
    least: int
    most: int
    usages: tuple[int, ...]
    within: tuple[int, ...]
    array: bool
    constant: bool


@dataclass(slots=True)
class _Globals:
    page: int = 0
    least: int = 0
    most_raw: tuple[int, int] = (0, 0)
    size: int = 0
    count: int = 0
    report: int = 0


@dataclass(slots=True)
class _Locals:
    usages: list[int] = field(default_factory=list)
    first: int | None = None


def parse(descriptor: bytes) -> tuple[HidField, ...]:
    """The fields of all reports, in order. Raises :class:`DescriptorError`."""
    if len(descriptor) > LONGEST:
        raise DescriptorError(f"a report descriptor has {LONGEST} bytes at most")
    reader = _DescriptorReader()
    for prefix, value, size in _items(descriptor):
        reader.item(prefix, value, size)
    if reader.within:
        raise DescriptorError("a collection is not ended")
    return tuple(reader.fields)


class _DescriptorReader:
    """What has been said so far: globals hold on, locals up to the next main item."""

    def __init__(self) -> None:
        self.fields: list[HidField] = []
        self.within: list[int] = []
        self._now, self._local = _Globals(), _Locals()
        self._stack: list[_Globals] = []
        self._offsets: dict[tuple[int, int], int] = {}

    def item(self, prefix: int, value: int, size: int) -> None:
        """Take in one short item."""
        match prefix:
            case 0x08 | 0x18 | 0x28:
                page = 0 if size == 4 else self._now.page << 16
                _add_usage(self._local, prefix, page | value)
            case 0x80 | 0x90 | 0xB0 | 0xA0 | 0xC0:
                self._main(prefix, value)
                self._local = _Locals()
            case _:
                self._global(prefix, value, size)

    def _global(self, prefix: int, value: int, size: int) -> None:
        now = self._now
        match prefix:
            case 0x04:
                now.page = value
            case 0x14:
                now.least = _signed(value, size)
            case 0x24:
                now.most_raw = (value, size)
            case 0x74:
                now.size = value
            case 0x84:
                now.report = value
            case 0x94:
                now.count = value
            case 0xA4:
                self._stack.append(replace(now))
            case 0xB4:
                if not self._stack:
                    raise DescriptorError("a pop without a push")
                self._now = self._stack.pop()

    def _main(self, prefix: int, value: int) -> None:
        if prefix == _COLLECTION:
            self.within.append(self._local.usages[0] if self._local.usages else 0)
        elif prefix == _END_COLLECTION:
            if not self.within:
                raise DescriptorError("an end without a collection")
            self.within.pop()
        else:
            now = self._now
            at = self._offsets.setdefault((prefix, now.report), 0)
            end = at + now.size * now.count
            if end > MOST_BITS or now.size > 32 or len(self.fields) >= MOST_FIELDS:
                raise DescriptorError("more than any report holds")
            self._offsets[prefix, now.report] = end
            self.fields.append(_field(prefix, value, now, self._local, self.within, at))


def report_bytes(fields: Sequence[HidField], kind: str, report: int) -> int:
    """The bytes of a report without its id; 0 where there is none."""
    ends = [
        one.bit + one.size * one.count for one in fields if (one.kind, one.report) == (kind, report)
    ]
    return (max(ends, default=0) + 7) // 8


def bits(data: bytes, bit: int, size: int, *, signed: bool = False) -> int:
    """``size`` bits of a report from ``bit`` on, least significant first."""
    value = int.from_bytes(data, "little") >> bit & (1 << size) - 1
    return value - (1 << size) if signed and value >> (size - 1) else value


def _items(data: bytes) -> Iterator[tuple[int, int, int]]:
    """Type and tag (the low two bits clear), value and its size in bytes, of each short item."""
    at = 0
    while at < len(data):
        head = data[at]
        if head == 0xFE:
            if at + 1 >= len(data):
                raise DescriptorError("it ends within an item")
            at += 3 + data[at + 1]
            continue
        size = (0, 1, 2, 4)[head & 3]
        value = data[at + 1 : at + 1 + size]
        if len(value) < size:
            raise DescriptorError("it ends within an item")
        yield head & 0xFC, int.from_bytes(value, "little"), size
        at += 1 + size


def _add_usage(local: _Locals, prefix: int, usage: int) -> None:
    if prefix == 0x08:
        local.usages.append(usage)
    elif prefix == 0x18:
        local.first = usage
    elif local.first is not None:
        if not 0 <= usage - local.first < MOST_USAGES:
            raise DescriptorError("a range of usages that is none")
        local.usages += range(local.first, usage + 1)
        local.first = None
    if len(local.usages) > MOST_USAGES:
        raise DescriptorError("more usages than any report has")


def _field(
    prefix: int, flags: int, now: _Globals, local: _Locals, within: list[int], at: int
) -> HidField:
    value, size = now.most_raw
    # The maximum is signed only where the minimum is: else 0xFF would be -1.
    most = _signed(value, size) if now.least < 0 else value
    return HidField(
        _KIND_NAMES[prefix], now.report, at, now.size, now.count, now.least, most,
        tuple(local.usages), tuple(within), array=not flags & 2, constant=bool(flags & 1),
    )  # fmt: skip


def _signed(value: int, size: int) -> int:
    return value - (1 << 8 * size) if size and value >> (8 * size - 1) else value
