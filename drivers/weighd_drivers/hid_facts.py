"""What a USB scale tells of itself besides weights: Max, last digit, class, unit, a zero command.

After the USB-IF *HID Point of Sale Usage Tables* 1.02 and the *HID Usage Tables*, usage page 0x8D:
Scale Weight Limit Report (34) and Scale Attribute Report (30), both feature reports, and Zero Scale
(80) in the Scale Control Report (31). Pure: who asks the device is told which report and how long.

Which code means which class is taken from the descriptor, as everything is: there, the usages
begin with *Scale Class* itself in some devices and with *Class I Metric* in others.
"""

from __future__ import annotations

import errno
from collections.abc import Callable, Iterator, Sequence
from contextlib import suppress
from decimal import Decimal
from functools import partial

from weighd.domain.errors import ScaleError
from weighd.domain.mass import text, to_grams
from weighd_drivers.hid_descriptor import HidField, report_bytes
from weighd_drivers.hid_layout import (
    PAGE,
    SCALING,
    UNIT_USAGES,
    UNITS,
    WIDEST_SCALING,
    UnreadableError,
    WeightReport,
    quantity_of,
    selector_of,
    weight_report,
    whole,
)

_ATTRIBUTES = PAGE << 16 | 0x30
_ZERO_SCALE = PAGE << 16 | 0x80
_CLASSES = {
    0x22: "I metric", 0x23: "II metric", 0x24: "III metric", 0x25: "IIIL metric",
    0x26: "IV metric", 0x27: "III English", 0x28: "IIIL English", 0x29: "IV English",
    0x2A: "generic",
}  # fmt: skip
#: A Max that no scale has is rubbish, grams: it would make every load an overload, or none.
SMALLEST_MAX, LARGEST_MAX = Decimal(1), Decimal(10) ** 9

#: Gets a feature report by its id and its bytes without the id; with the id, if it has one.
Ask = Callable[[int, int], bytes]


def facts_of(fields: Sequence[HidField], ask: Ask) -> dict[str, str]:
    """What the device says of itself; nothing of it need be there.

    ``max_g``           the weight limit.
    ``interval_g``      what one in the last digit is worth, from the scaling among its attributes.
    ``accuracy_class``  the class it claims, as the usage tables name it.
    ``unit``            the unit it shows when it is switched on.
    ``zero_command``    the report that would zero it; it is never sent.

    An answer that is refused, short, of another report or no number is as good as none, and a
    device that does not answer in time is not asked again. Raises ``OSError`` when it is gone.
    """
    out: dict[str, str] = {}
    command = zero_command(fields)
    try:
        for report, size, read in _questions(fields):
            answer = _answer(ask, report, size)
            if answer is not None:
                with suppress(UnreadableError):
                    for key, told in read(answer).items():
                        out.setdefault(key, told)
    except TimeoutError:
        pass
    return out | ({"zero_command": f"report {command[0]}"} if command else {})


def zero_command(fields: Sequence[HidField]) -> tuple[int, bytes] | None:
    """The report that zeroes the scale: its id and its bytes without it."""
    for one in fields:
        if one.kind in {"output", "feature"} and _ZERO_SCALE in one.usages and not one.array:
            bit = one.bit + one.size * one.usages.index(_ZERO_SCALE)
            size = report_bytes(fields, one.kind, one.report)
            if bit < 8 * size:
                return one.report, (1 << bit).to_bytes(size, "little")
    return None


def max_grams(report: WeightReport, data: bytes) -> Decimal | None:
    """Max in grams from the answer to the limit report; ``None`` where it says nothing usable."""
    try:
        payload = report.payload(data)
        number, unit = report.quantity(payload or b"")
    except (UnreadableError, IndexError):
        return None
    grams = to_grams(number, unit)
    return grams if SMALLEST_MAX <= grams <= LARGEST_MAX else None


_Read = Callable[[bytes], dict[str, str]]


def _questions(fields: Sequence[HidField]) -> Iterator[tuple[int, int, _Read]]:
    """The feature reports worth asking for: id, bytes without it, and how to read them."""
    try:
        limit = weight_report(fields, "feature")
    except ScaleError:
        pass
    else:
        yield limit.report, limit.size, partial(_limit, limit)
    said = [one for one in fields if one.kind == "feature" and _ATTRIBUTES in one.within]
    for number in dict.fromkeys(one.report for one in said):
        same = [one for one in said if one.report == number]
        if selector_of(same, UNIT_USAGES) or selector_of(same, _CLASSES):
            size = report_bytes(fields, "feature", number)
            yield number, size, partial(_attributes, same, size)


def _answer(ask: Ask, report: int, size: int) -> bytes | None:
    """The answer with its id, if it has one; ``None`` where there is none."""
    try:
        answer = ask(report, size)
    except OSError as error:
        if error.errno == errno.ENODEV:
            raise
        if error.errno == errno.ETIMEDOUT:
            # The next would keep everybody waiting as long.
            raise TimeoutError from error
        return None
    return answer if answer and (not report or answer[0] == report) else None


def _limit(limit: WeightReport, answer: bytes) -> dict[str, str]:
    largest = max_grams(limit, answer)
    return {} if largest is None else {"max_g": text(largest)}


def _attributes(fields: Sequence[HidField], size: int, answer: bytes) -> dict[str, str]:
    data = whole(answer[1:] if fields[0].report else answer, size)
    out: dict[str, str] = {}
    classes, units = selector_of(fields, _CLASSES), selector_of(fields, UNIT_USAGES)
    named = _CLASSES.get((classes.selected(data) if classes else None) or 0)
    if named is not None:
        out["accuracy_class"] = named
    unit = UNITS.get((units.selected(data) if units else None) or 0)
    if unit is None:
        return out
    out["unit"] = unit.value
    scaling = quantity_of(fields, SCALING)
    if scaling is not None and abs(scaling.value(data)) <= WIDEST_SCALING:
        digit = Decimal(1).scaleb(scaling.value(data))
        out["interval_g"] = text(to_grams(digit, unit))
    return out
