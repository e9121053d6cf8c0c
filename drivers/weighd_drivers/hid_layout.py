"""Where things stand in the reports of a USB scale, as its report descriptor says.

After the USB-IF *HID Point of Sale Usage Tables* 1.02 and the *HID Usage Tables*, usage page 0x8D.

Here are the report of the weight, and the status beside it or in a report of its own; what a scale
tells of itself besides is in ``hid_facts``.
"""

from __future__ import annotations

from collections.abc import Container, Mapping, Sequence
from dataclasses import asdict, dataclass
from decimal import Decimal
from typing import Any

from weighd.domain.errors import ScaleError
from weighd.domain.mass import EXACT, Unit
from weighd_drivers.hid_descriptor import HidField, bits, report_bytes

PAGE = 0x8D
#: Data Scaling beyond this is none of a scale's: 10**-10 of a unit, 10**10 units.
WIDEST_SCALING = 10

_DATA_WEIGHT, SCALING = 0x40, PAGE << 16 | 0x41
_STATUS, UNIT_USAGES = range(0x71, 0x79), range(0x51, 0x5D)
_WEIGHT_LIMIT_REPORT = 0x34
AT_ZERO, MOVING, STABLE, OVER = 0x72, 0x73, 0x74, 0x76

#: Units by their usage. Taels and the avoirdupois ton have no single definition: not read.
UNITS = {
    0x51: Unit.MG, 0x52: Unit.G, 0x53: Unit.KG, 0x54: Unit.CT, 0x56: Unit.GR, 0x57: Unit.DWT,
    0x58: Unit.T, 0x5A: Unit.OZT, 0x5B: Unit.OZ, 0x5C: Unit.LB,
}  # fmt: skip

#: Statuses without a number, by their usage.
NO_NUMBER = {
    0x71: "fault",
    0x75: "under",
    0x77: "requires calibration",
    0x78: "requires rezeroing",
}
#: Of several flags that are set at once, the one that says most: what forbids a number first.
_FIRST = (0x71, 0x77, 0x78, OVER, 0x75, MOVING, AT_ZERO, STABLE)


class UnreadableError(Exception):
    """Why a report is refused."""


@dataclass(frozen=True, slots=True)
class Selector:
    """An array of one value: which usage it selects. ``usages[0]`` is selected by ``least``."""

    bit: int
    size: int
    least: int
    usages: tuple[int, ...]

    def selected(self, data: bytes) -> int | None:
        """The usage, or ``None`` for a value outside the range: no selection (HID 1.11)."""
        at = bits(data, self.bit, self.size) - self.least
        return self.usages[at] if 0 <= at < len(self.usages) else None


@dataclass(frozen=True, slots=True)
class Flags:
    """Statuses that are a bit each: ``usages[n]`` is told by the bit ``bits[n]``."""

    bits: tuple[int, ...]
    usages: tuple[int, ...]

    def selected(self, data: bytes) -> int | None:
        """The usage that says most; ``None`` where nothing can be said.

        A scale that has a flag for rest or for motion says the other by leaving it clear.
        """
        pairs = zip(self.bits, self.usages, strict=True)
        told = {usage for bit, usage in pairs if bits(data, bit, 1)}
        for usage in _FIRST:
            if usage in told:
                return usage
        if STABLE in self.usages:
            return MOVING
        return STABLE if MOVING in self.usages else None


@dataclass(frozen=True, slots=True)
class StatusReport:
    """A report of its own for the status: its id, and its bytes without it."""

    report: int
    size: int
    status: Selector | Flags


@dataclass(frozen=True, slots=True)
class Quantity:
    """A number in a report."""

    bit: int
    size: int
    signed: bool

    def value(self, data: bytes) -> int:
        """The number."""
        return bits(data, self.bit, self.size, signed=self.signed)


@dataclass(frozen=True, slots=True)
class WeightReport:
    """Where the weight stands. ``report`` is the id, 0 for none; ``size`` bytes without it.

    ``others`` are ids of input reports that say nothing of the weight.
    """

    report: int
    size: int
    unit: Selector
    scaling: Quantity
    weight: Quantity
    status: Selector | Flags | None
    others: tuple[int, ...] = ()
    apart: StatusReport | None = None

    def payload(self, data: bytes) -> bytes | None:
        """A report without its id; ``None`` for another report that the device declares.

        Zeros after the end are padding of the transfer. Raises for any other length.
        """
        if self.report:
            if data[0] != self.report:
                if data[0] in self.others:
                    return None
                raise UnreadableError(f"report {data[0]} is not declared")
            data = data[1:]
        return whole(data, self.size)

    def status_apart(self, data: bytes) -> int | None:
        """The status that a report of its own tells; ``None`` for any other report."""
        if self.apart is None or data[0] != self.apart.report:
            return None
        return self.apart.status.selected(whole(data[1:], self.apart.size)) or 0

    def quantity(self, data: bytes) -> tuple[Decimal, Unit]:
        """The number displayed and its unit. Raises where either says nothing usable."""
        usage = self.unit.selected(data)
        unit = UNITS.get(usage or 0)
        if unit is None:
            raise UnreadableError(f"unit {usage:#x} is not read" if usage else "no unit")
        scaling = self.scaling.value(data)
        if abs(scaling) > WIDEST_SCALING:
            raise UnreadableError(f"a scaling of {scaling} is none of a scale's")
        number = Decimal(self.weight.value(data))
        if scaling < 0:
            return number.scaleb(scaling, EXACT), unit
        return EXACT.multiply(number, 10**scaling), unit


def whole(data: bytes, size: int) -> bytes:
    """A report of ``size`` bytes without padding. Raises :class:`UnreadableError`."""
    if len(data) < size or any(data[size:]):
        raise UnreadableError(f"{len(data)} bytes, where {size} belong")
    return data[:size]


def weight_report(fields: Sequence[HidField], kind: str = "input") -> WeightReport:
    """The report that holds the weight.

    ``kind`` ``feature`` gives the report of the largest weight (Max) instead. Raises
    :class:`ScaleError` where the device has none: it is not a scale of this class.
    """
    wanted = PAGE << 16
    limit = wanted | _WEIGHT_LIMIT_REPORT
    for one in fields:
        is_limit = limit in one.within
        if one.kind != kind or wanted | _DATA_WEIGHT not in one.usages:
            continue
        if is_limit != (kind == "feature"):
            continue
        same = [
            each for each in fields
            if (each.kind, each.report) == (kind, one.report)
        ]  # fmt: skip
        unit, status = selector_of(same, UNIT_USAGES), _status(same)
        scaling = quantity_of(same, SCALING)
        weight = quantity_of(same, wanted | _DATA_WEIGHT)
        if unit and scaling and weight:
            ids = {each.report for each in fields if each.kind == kind} - {one.report}
            size = report_bytes(fields, kind, one.report)
            apart = None if status or kind == "feature" else _apart(fields, one.report)
            return WeightReport(
                one.report, size, unit, scaling, weight, status, tuple(sorted(ids)), apart
            )
    raise ScaleError(
        "not-a-hid-scale",
        "The device does not describe a weight with unit and scaling, as USB's scale class has it.",
        remedy="Use its serial port instead, if it has one.",
    )


def selector_of(fields: Sequence[HidField], usages: Container[int]) -> Selector | None:
    """The array of one value that selects among ``usages`` of page 0x8D."""
    for one in fields:
        known = [usage for usage in one.usages if usage >> 16 == PAGE and usage & 0xFFFF in usages]
        if known and one.array and one.count == 1 and one.size:
            page = tuple(u & 0xFFFF if u >> 16 == PAGE else 0 for u in one.usages)
            return Selector(one.bit, one.size, one.least, page)
    return None


def _status(fields: Sequence[HidField]) -> Selector | Flags | None:
    """The status, as an array of one value or as a bit each."""
    array = selector_of(fields, _STATUS)
    if array is not None:
        return array
    found: dict[int, int] = {}
    for one in fields:
        if one.array or one.constant or one.size != 1:
            continue
        for n, usage in enumerate(one.usages[: one.count]):
            if usage >> 16 == PAGE and usage & 0xFFFF in _STATUS:
                found.setdefault(usage & 0xFFFF, one.bit + n)
    return Flags(tuple(found.values()), tuple(found)) if found else None


def _apart(fields: Sequence[HidField], weight: int) -> StatusReport | None:
    """A status in another numbered report than that of the weight."""
    numbers = {one.report for one in fields if one.kind == "input"} - {0, weight}
    for number in sorted(numbers):
        status = _status([one for one in fields if (one.kind, one.report) == ("input", number)])
        if status is not None:
            return StatusReport(number, report_bytes(fields, "input", number), status)
    return None


def quantity_of(fields: Sequence[HidField], usage: int) -> Quantity | None:
    """Where the number of a usage stands."""
    for one in fields:
        if usage in one.usages and not one.array and one.size:
            bit = one.bit + one.size * one.usages.index(usage)
            return Quantity(bit, one.size, signed=one.least < 0)
    return None


def as_json(report: WeightReport) -> dict[str, object]:
    """A layout as JSON values; what a record keeps."""
    out = asdict(report)
    if out["apart"] is None:
        del out["apart"]  # as it always was for a scale without
    return dict(_listed(out))


def _listed(value: dict[str, object]) -> dict[str, object]:
    return {
        key: list(one) if isinstance(one, tuple) else _listed(one) if isinstance(one, dict) else one
        for key, one in value.items()
    }


def from_json(given: object) -> WeightReport:
    """The layout again. Raises ``TypeError`` or ``ValueError`` for what is none."""
    if not isinstance(given, Mapping):
        raise TypeError("a layout is an object")
    parts = dict(given)
    try:
        parts["unit"] = _status_from(parts["unit"])
        parts["status"] = None if parts["status"] is None else _status_from(parts["status"])
        for key in ("scaling", "weight"):
            parts[key] = Quantity(**parts[key])
        parts["others"] = tuple(parts["others"])
        if parts.get("apart") is not None:
            apart = dict(parts["apart"])
            parts["apart"] = StatusReport(**apart | {"status": _status_from(apart["status"])})
    except KeyError as error:
        raise ValueError(f"{error} is missing") from error
    return WeightReport(**parts)


def _status_from(given: Mapping[str, Any]) -> Any:
    parts: dict[str, Any] = {
        key: tuple(one) if isinstance(one, list) else one for key, one in given.items()
    }
    return Flags(**parts) if "bits" in parts else Selector(**parts)
