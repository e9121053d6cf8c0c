"""Sizes of labels in mm: ``62x40``, one a page; ``70x37 on 210x297``, as many as fit on a sheet.

``gap 2.5x0`` behind it is what lies between the labels of a sheet, across and down. Labels stand in
the middle of their sheet.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import Decimal

_NUMBER = r"(\d{1,4}(?:\.\d{1,2})?)"
_PAIR = rf"{_NUMBER}\s*[x\u00d7]\s*{_NUMBER}"
_SIZE = re.compile(rf"\s*{_PAIR}(?:\s+on\s+{_PAIR})?(?:\s+gap\s+{_PAIR})?\s*", re.ASCII)
#: Nothing smaller holds a code and a name; nothing larger is a label or its sheet.
LEAST_MM, MOST_MM = Decimal(15), Decimal(450)
_NONE = Decimal(0)


@dataclass(frozen=True, slots=True)
class LabelSize:
    """A label, and the sheet it is on; all in mm. ``across`` and ``down``: how many fit."""

    wide: Decimal
    high: Decimal
    page_wide: Decimal
    page_high: Decimal
    gap_across: Decimal = _NONE
    gap_down: Decimal = _NONE

    @property
    def across(self) -> int:
        return int((self.page_wide + self.gap_across) // (self.wide + self.gap_across))

    @property
    def down(self) -> int:
        return int((self.page_high + self.gap_down) // (self.high + self.gap_down))

    @property
    def alone(self) -> bool:
        """Whether each has a page of its own."""
        return self.across * self.down == 1


def read_label_size(text: str) -> LabelSize:
    """A size as it is written. Raises ``ValueError`` with what is wrong."""
    found = _SIZE.fullmatch(text.replace("mm", " "))
    if found is None:
        raise ValueError(
            f'"{text[:40]}" is no size of a label; write it in mm like 62x40 or 70x37 on 210x297'
        )
    wide, high, page_wide, page_high, gap_across, gap_down = (
        None if one is None else Decimal(one) for one in found.groups()
    )
    assert wide is not None
    assert high is not None
    size = LabelSize(
        wide, high, page_wide or wide, page_high or high, gap_across or _NONE, gap_down or _NONE
    )
    if min(wide, high) < LEAST_MM or max(size.page_wide, size.page_high) > MOST_MM:
        raise ValueError(f'"{text[:40]}" mm: from {LEAST_MM} to {MOST_MM} mm is possible')
    if size.across < 1 or size.down < 1:
        raise ValueError(f'"{text[:40]}": the label is larger than its sheet')
    return size


@dataclass(frozen=True, slots=True)
class LabelLook:
    """How labels of a kitchen look.

    ``sizes``    those that are there, the usual one first, as they are written.
    ``code``     how a trade number goes into the code: ``link`` or ``elements``.
    ``kitchen``  who made it, as labels have it.
    ``language`` in which they are: ``en`` or ``de``.
    """

    sizes: tuple[str, ...] = ("62x40", "100x62", "70x37 on 210x297")
    code: str = "link"
    kitchen: str = ""
    language: str = "en"
