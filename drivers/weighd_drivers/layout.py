"""A wire shape made ready: one regular expression over bytes, and what its groups mean.

Pure and stateless: the whole report in, what it says out. What does not fit wholly is refused
with a reason; nothing is guessed and nothing becomes zero.
"""

from __future__ import annotations

import re
from decimal import Decimal
from functools import cached_property, reduce
from operator import xor

from weighd.domain.mass import EXACT, Unit, to_grams
from weighd.station.ports import Mark
from weighd_drivers.layout_text import (
    as_bytes,
    begins_later,
    either,
    part_text,
    quoted,
)
from weighd_drivers.shapes import (
    Check,
    Fixed,
    Number,
    Part,
    Sign,
    Status,
    UnitWord,
    WireShape,
    mark_bytes,
)

_ANY_END = re.compile(rb"[\r\n]")


#: What a report says, in the order of :class:`~weighd.domain.reading.Reading`: grams, unit,
#: stable, over, fault, shown.
Said = tuple[Decimal | None, Unit | None, bool | None, bool, str, Decimal | None]


class UnreadableError(Exception):
    """Why a report that looks like the shape is refused all the same."""


#: What a report without a usable number may be, the gravest first; the rest is of the motion.
_NO_NUMBER = ("fault", "zero error", "tare error", "over", "under")


class Layout:
    """A shape compiled.

    ``pattern``  matches a whole report at a position: group 1 is the report from its first to
                 its last byte. Blank line ends before it are skipped.
    ``start, end, tail``  the delimiters, and the number of check bytes after the end; ``end``
                 is empty where the length alone ends a report, and for ``any``.
    """

    def __init__(self, shape: WireShape) -> None:
        self.shape = shape
        frame, self._check = shape.frame, shape.check
        self.start = mark_bytes(frame.start)
        self.any_end = frame.end == "any"
        self.end = b"" if self.any_end else mark_bytes(frame.end)
        self.endless = not (self.end or self.any_end)
        size = 0 if self._check is None else 1 if self._check.written == "byte" else 2
        after_end = self._check is not None and self._check.place == "after end"
        self.tail = size if after_end else 0
        self._inner = size - self.tail
        self._statuses: list[tuple[int, dict[bytes, str]]] = []
        self._numbers: list[tuple[int, Number, dict[bytes, str]]] = []
        self.sign = self._unit = 0
        self._unit_words: dict[bytes, Unit] = {}
        self._only_when_stable = False
        self._texts = as_bytes(shape.texts)
        #: How reports begin that are known and passed over.
        self.others = tuple(self.start + text.encode("ascii") for text in shape.others)
        self._groups = 2  # the report and the data come first, the check last
        fields = "".join(self._field(part) for part in shape.field)
        self.pattern = re.compile(self.whole(fields).encode("latin-1"), re.DOTALL)
        self.end_size = len(self.end) or 1
        #: The bytes of a report that has no end, only a start and a length; else 0.
        self.size = 0
        if self.endless:
            self.size = len(self.start) + shape.span[0] + self._inner
        #: The bytes of a report whose check may look like its end; else 0.
        self.size_with_check = 0
        if self._inner == 1 and self.end_size:
            self.size_with_check = shape.span[0] + self._inner + self.end_size

    def find_end(self, text: bytes, at: int) -> tuple[int, int]:
        """Where the next end begins and stops; ``(-1, -1)`` where there is none."""
        if self.any_end:
            found = _ANY_END.search(text, at)
            return found.span() if found else (-1, -1)
        end = text.find(self.end, at) if self.end else -1
        return (end, end + len(self.end)) if end >= 0 else (-1, -1)

    @cached_property
    def tail_is_no_report(self) -> bool:
        """Whether the tail of a report can never be taken for a report.

        So it is where reports have a start or one length, or begin with a word that can begin
        nowhere else in them.
        """
        least, most = self.shape.span
        if self.start or least == most:
            return True
        first = self.shape.field[0]
        if not isinstance(first, Status | Fixed):
            return False
        words = list(first.words) if isinstance(first, Status) else [first.text]
        return not begins_later(words, self.shape.field)

    def read(self, match: re.Match[bytes]) -> Said:
        """What a matched report says. Raises :class:`UnreadableError` with the reason."""
        whole = self._texts.get(match[2])
        if whole is not None:
            if self._check is not None:
                self._verify(self._check, match)
            return _without_number([whole], "it says nothing of a weight")
        length = self.shape.frame.length
        if length is not None and len(match[2]) != length:
            raise UnreadableError(f"{len(match[2])} characters, where {length} belong")
        if self._check is not None:
            self._verify(self._check, match)
        meanings = [words[match[group]] for group, words in self._statuses]
        total: Decimal | None = Decimal(0)
        for group, number, missing in self._numbers:
            text = match[group].strip()
            if text not in missing and text[:1] in (b"+", b"-"):
                text = text if text[-1:].isdigit() else text[1:].strip()
            if text in missing:
                total = None
                # A status word knows better why there is no number.
                if not any(one in _NO_NUMBER for one in meanings):
                    meanings.append(missing[text])
            elif total is not None:
                total = EXACT.add(total, self._number(text, number))
        unit, motion = self._unit_of(match)
        meanings += motion
        stable = (
            False
            if "moving" in meanings
            else True
            if "stable" in meanings or "stable zero" in meanings
            else None
        )
        if total is None or any(one in _NO_NUMBER for one in meanings):
            return _without_number(meanings, "no digits, and nothing says why")
        if unit is None:
            raise UnreadableError("no unit")
        if self.sign and match[self.sign] == b"-":
            total = total.copy_negate()
        if not total:
            total = total.copy_abs()
        return (to_grams(total, unit), unit, stable, False, "", total)

    def marks(self, report: bytes) -> list[Mark]:
        """What stands where in a whole report; empty where it is none, or has no weight."""
        match = self.pattern.match(report)
        if match is None:
            return []
        named = [("status", group) for group, _ in self._statuses]
        named += [("number", group) for group, _, _ in self._numbers]
        named += [(what, one) for what, one in (("sign", self.sign), ("unit", self._unit)) if one]
        if self._check is not None:
            named.append(("check", self._groups + 1))
        found = [(what, *_inside(match, group)) for what, group in named]
        return sorted((one for one in found if one[1] < one[2]), key=lambda one: one[1])

    def _number(self, text: bytes, number: Number) -> Decimal:
        digits = text.decode("ascii")
        if number.thousands:
            digits = digits.replace(number.thousands, "")
        if number.point != ".":
            digits = digits.replace(",", ".")
        if number.width is None or number.gap:
            digits = digits.replace(" ", "")  # only between sign and digits can there be any
        try:
            value = Decimal(digits)
        except ArithmeticError as error:
            raise UnreadableError(f"{digits!r} is not a number") from error
        if number.decimals:
            value = value.scaleb(-number.decimals, EXACT)
        if len(self._numbers) > 1:
            # Shown in the last number's unit: pounds and ounces as ounces.
            assert number.unit is not None
            shown = self._numbers[-1][1].unit
            assert shown is not None
            value = EXACT.divide(to_grams(value, number.unit), shown.grams)
        return value

    def _unit_of(self, match: re.Match[bytes]) -> tuple[Unit | None, list[str]]:
        if not self._unit:
            return self._numbers[-1][1].unit or self.shape.unit, []
        word = (match[self._unit] or b"").strip()
        if self._only_when_stable:
            implied = self.shape.unit
            if not word:
                return implied, ["moving"]
            if self._unit_words.get(word) is not implied:
                raise UnreadableError(f"the unit {word!r} is not the implied {implied}")
            return implied, ["stable"]
        unit = self._unit_words.get(word)
        if unit is None and word:
            raise UnreadableError(f"the unit {word!r} is not known")
        return unit, []

    def _verify(self, check: Check, match: re.Match[bytes]) -> None:
        covered = match[2]
        if check.covers.startswith("start"):
            covered = self.start + covered
        if check.covers.endswith("end"):
            covered += self.end
        value = reduce(xor, covered, 0) if check.kind == "xor" else sum(covered) & 0xFF
        if check.kind == "negated sum":
            value = -value & 0xFF
        if self.shape.frame.seven_bit and check.written == "byte":
            value &= 0x7F
        given = match[self._groups + 1]
        sent = given[0] if check.written == "byte" else int(given, 16)
        if sent != value:
            raise UnreadableError(f"the check is {sent:02X}, the data give {value:02X}")

    def whole(self, fields: str, *, groups: bool = True, blanks: bool = False) -> str:
        """A pattern for a whole report around one for its ``fields``.

        Its groups: the ``blanks`` before it where asked for, and the report; with ``groups`` also
        its data, and behind what ``fields`` has, the check where there is one.
        """
        group = "(" if groups else "(?:"
        ends = "[\r\n]" if self.any_end else quoted(self.end)
        size = self.tail or self._inner
        check = group + {1: ".)", 2: "[0-9A-Fa-f]{2})"}[size] if size else ""
        after = f"{ends}{check}" if self.tail else f"{check}{ends}"
        if self._texts:
            fields = f"{either(self.shape.texts)}|{fields}"
        fields = f"{group}{fields})"
        if self._inner == 1:
            # The check may look like the end: a report that has not come wholly must not match.
            fields = f"(?=.{{{self.shape.span[0] + 1}}}{ends}){fields}"
        before = "([\r\n]*)" if blanks else "[\r\n]*"
        return f"{before}({quoted(self.start)}{fields}{after})"

    def _field(self, part: Part) -> str:
        """One field as a pattern; groups that mean something are noted by their number."""
        text = part_text(part, exact=self.endless)
        match part:
            case Status():
                self._statuses.append((self._group(), as_bytes(part.words)))
            case Sign():
                self.sign = self._group()
            case Number():
                missing = {text.strip(): meaning for text, meaning in part.missing.items()}
                self._numbers.append((self._group(), part, as_bytes(missing)))
            case UnitWord():
                self._unit = self._group()
                self._unit_words = as_bytes(part.words)
                self._only_when_stable = part.only_when_stable
            case _:
                return text
        return f"({text})"

    def _group(self) -> int:
        self._groups += 1
        return self._groups


def _inside(match: re.Match[bytes], group: int) -> tuple[int, int]:
    """Where a group stands, without the blanks that fill it up."""
    begin, text = match.start(group), match[group] or b""
    return begin + len(text) - len(text.lstrip(b" ")), begin + len(text.rstrip(b" "))


def _without_number(meanings: list[str], why: str) -> Said:
    """What a report says that has no number; the gravest meaning counts."""
    for grave in _NO_NUMBER:
        if grave in meanings:
            fault = "" if grave == "over" else grave
            return (None, None, None, grave == "over", fault, None)
    raise UnreadableError(why)
