"""Wire shapes: how one report of a scale is written on the line, as a value.

A shape is data, not code: users keep, edit and share it as a small text file (``shape_text``),
and a decoder (``lines``) is made from it. Those shipped are such files too, in ``wire/``, so
that they can be copied and changed. What a shipped shape says never changes: records name it.

Fields, in the order they stand on the line:

``status``   one of some words, each with what it says of the report
``literal``  exactly this text
``space``    blanks
``sign``     a sign apart from the digits, before or after them
``number``   digits, perhaps padded, with a point or a comma or an implied number of decimals
``unit``     the unit; perhaps only when stable
``ignored``  characters that say nothing of the weight

Everything is ASCII. A control character is written by its name or as ``0x1B`` in ``frame``, and
as ``\\u0002`` inside a text.
"""

from __future__ import annotations

import re
from typing import Annotated, Literal, Self

from pydantic import BaseModel, ConfigDict, Field, model_validator

from weighd.domain.mass import Unit

#: A longer report than this is no report of a scale.
LONGEST = 256

Meaning = Literal[
    "stable",
    "moving",
    "over",
    "under",
    "zero error",
    "tare error",
    "fault",
    "stable zero",
    "nothing",
]
"""What a status word says. ``nothing`` is a word that is known and says nothing of the weight;
``stable zero`` is the centre of zero. A word that is not listed makes the report unreadable."""

CONTROL = {
    "NUL": 0, "SOH": 1, "STX": 2, "ETX": 3, "EOT": 4, "ENQ": 5, "ACK": 6, "BEL": 7, "TAB": 9,
    "LF": 10, "FF": 12, "CR": 13, "NAK": 21, "ESC": 27,
}  # fmt: skip
"""Control characters by their names (ISO 646, from memory)."""

#: Unit words read unless a shape names its own. Left out because they are written for two
#: different units in practice: ``gr`` (gram or grain), ``MG``, ``T``, ``c``.
UNIT_WORDS = {
    "mg": Unit.MG, "g": Unit.G, "G": Unit.G, "kg": Unit.KG, "Kg": Unit.KG, "KG": Unit.KG,
    "t": Unit.T, "ct": Unit.CT, "CT": Unit.CT, "gn": Unit.GR, "GN": Unit.GR,
    "dwt": Unit.DWT, "DWT": Unit.DWT, "ozt": Unit.OZT, "OZT": Unit.OZT,
    "oz": Unit.OZ, "OZ": Unit.OZ, "lb": Unit.LB, "LB": Unit.LB,
}  # fmt: skip

#: A number without a width: so many blanks, a sign, digits, a point and decimals at most.
MOST_BLANKS, MOST_DIGITS, MOST_DECIMALS = 8, 12, 9
MOST_NUMBER = 2 * MOST_BLANKS + 1 + MOST_DIGITS + 1 + MOST_DECIMALS

PRINTABLE = "".join(map(chr, range(0x20, 0x7F)))

_Count = Annotated[int, Field(ge=0, le=LONGEST)]
_Text = Annotated[str, Field(min_length=1, max_length=64, pattern=r"^[\x00-\x7e]+$")]


def mark_bytes(mark: str) -> bytes:
    """``"CR LF"`` as bytes. Raises ``ValueError`` naming the part that is no character."""
    out = bytearray()
    for word in mark.split():
        if word in CONTROL:
            out.append(CONTROL[word])
        elif re.fullmatch(r"0x[0-9A-Fa-f]{2}", word):
            out.append(int(word, 16))
        elif len(word) == 1 and word.isascii():
            out.append(ord(word))
        else:
            raise ValueError(f"{word!r} is no character: write CR, STX, 0x1B or one character")
    if len(out) > 4:
        raise ValueError("a start or an end has at most four characters")
    return bytes(out)


class _Part(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, strict=True)


class Status(_Part):
    """A status word. Words of different lengths are told apart by the longest that fits."""

    kind: Literal["status"] = "status"
    words: dict[_Text, Meaning] = Field(min_length=1, max_length=64)


class Fixed(_Part):
    """Exactly this text."""

    kind: Literal["literal"] = "literal"
    text: _Text


class Space(_Part):
    """From ``least`` to ``most`` blanks."""

    kind: Literal["space"] = "space"
    least: _Count = 0
    most: _Count = 16

    @model_validator(mode="after")
    def _ordered(self) -> Self:
        if self.most < max(self.least, 1):
            raise ValueError("most must be at least one and not below least")
        return self


class Sign(_Part):
    """A sign apart from the digits. ``blank``: a blank stands for plus; ``optional``: so does
    nothing at all."""

    kind: Literal["sign"] = "sign"
    blank: bool = False
    optional: bool = False


class Number(_Part):
    """Digits. ``width`` counts padding and sign too and makes the number right-aligned.

    ``sign``      a sign may stand before the digits; without ``width``, blanks between them too.
    ``decimals``  implied decimals, only where ``point`` is ``none``.
    ``missing``   texts that stand here when there is no weight, and what they say; aligned
                  like the digits.
    ``unit``      the unit of this number; with it, a line may hold several that are summed.
    """

    kind: Literal["number"] = "number"
    width: Annotated[int, Field(ge=1, le=32)] | None = None
    sign: bool = True
    point: Literal[".", ",", "either", "none"] = "."
    decimals: Annotated[int, Field(ge=0, le=9)] = 0
    missing: dict[_Text, Meaning] = Field(default_factory=dict, max_length=16)
    unit: Unit | None = None

    @model_validator(mode="after")
    def _consistent(self) -> Self:
        if self.width and any(len(text) > self.width for text in self.missing):
            raise ValueError("a text in missing is longer than the width")
        if self.decimals and self.point != "none":
            raise ValueError('decimals are implied only where point = "none"')
        return self


class UnitWord(_Part):
    """The unit. ``width`` includes blanks on either side.

    ``only_when_stable``  the unit (or, with ``width``, blanks in its place) tells stable from
                          moving; a line without it is in the implied unit, and so must be a
                          line with it.
    ``optional``          it may be missing, but only where there is no weight.
    """

    kind: Literal["unit"] = "unit"
    words: dict[_Text, Unit] = Field(default_factory=lambda: dict(UNIT_WORDS), min_length=1)
    width: Annotated[int, Field(ge=1, le=16)] | None = None
    only_when_stable: bool = False
    optional: bool = False


class Ignored(_Part):
    """``width`` printable characters that say nothing of the weight; only ``among`` these."""

    kind: Literal["ignored"] = "ignored"
    width: Annotated[int, Field(ge=1, le=64)] = 1
    among: Annotated[str, Field(max_length=95, pattern=r"^[\x20-\x7e]*$")] = ""


Part = Status | Fixed | Space | Sign | Number | UnitWord | Ignored


class Frame(_Part):
    """Where a report begins and ends.

    ``start, end``  control names, ``0x1B`` or single characters with blanks between: ``CR LF``.
                    ``end = "any"`` is CR, LF or both. An empty ``end`` needs start and length.
    ``length``      the number of characters between start and end, check not counted.
    ``seven_bit``   the eighth bit is parity and is taken off before anything else.
    """

    start: str = ""
    end: str = "any"
    length: Annotated[int, Field(ge=1, le=LONGEST)] | None = None
    seven_bit: bool = False

    @model_validator(mode="after")
    def _delimited(self) -> Self:
        mark_bytes(self.start)
        if self.end != "any":
            mark_bytes(self.end)
        if not self.end and not (self.start and self.length):
            raise ValueError("without an end, both start and length say where a report ends")
        return self


class Check(_Part):
    """A check character.

    ``kind``     ``xor``, ``sum`` (modulo 256) or ``negated sum`` (its two's complement).
    ``written``  as one raw ``byte`` or as two ``hex`` digits.
    ``covers``   the data between start and end, with or without these.
    ``place``    ``after data`` (before the end) or ``after end``.
    """

    kind: Literal["xor", "sum", "negated sum"]
    written: Literal["byte", "hex"] = "byte"
    covers: Literal["data", "start+data", "data+end", "start+data+end"] = "data"
    place: Literal["after data", "after end"] = "after end"


class WireShape(_Part):
    """How one report of a scale is written on the line. Frozen; equal when it says the same.

    ``shape``  the version of this format, 1.
    ``unit`` is the implied unit: of lines that print none.
    """

    shape: Literal[1] = 1
    name: Annotated[str, Field(pattern=r"^[a-z0-9][a-z0-9-]{0,62}$")]
    title: Annotated[str, Field(max_length=200)] = ""
    source: Annotated[str, Field(max_length=400)] = ""
    unit: Unit | None = None
    frame: Frame = Frame()
    check: Check | None = None
    field: tuple[Annotated[Part, Field(discriminator="kind")], ...] = Field(
        min_length=1, max_length=40
    )

    @model_validator(mode="after")
    def _whole(self) -> Self:
        for problem in _problems(self):
            raise ValueError(problem)
        return self

    def with_unit(self, unit: Unit) -> WireShape:
        """This shape with another implied unit."""
        return WireShape.model_validate(self.model_dump() | {"unit": unit}, strict=False)

    @property
    def needs_unit(self) -> bool:
        """Whether some of its lines print no unit, so that the implied one decides."""
        words = [part for part in self.field if isinstance(part, UnitWord)]
        numbers = [part for part in self.field if isinstance(part, Number)]
        printed = bool(words) and not words[0].only_when_stable
        return not printed and any(number.unit is None for number in numbers)

    @property
    def prints_unit(self) -> bool:
        """Whether some of its lines print a unit."""
        return any(isinstance(part, UnitWord) for part in self.field)

    @property
    def strictness(self) -> tuple[int, ...]:
        """For choosing among shapes that all fit: the greater says more of a line.

        In this order: a check; a start; the number of status words' places; a unit on every
        line, a unit on some, none; a fixed number of characters; literal text.
        """
        units = [part for part in self.field if isinstance(part, UnitWord)]
        return (
            int(self.check is not None),
            int(bool(self.frame.start)),
            sum(isinstance(part, Status) for part in self.field),
            0 if self.needs_unit and not units else 1 if self.needs_unit else 2,
            int(self.span[0] == self.span[1]),
            sum(len(part.text) for part in self.field if isinstance(part, Fixed)),
        )

    @property
    def span(self) -> tuple[int, int]:
        """The least and the greatest number of characters between start and end."""
        if self.frame.length is not None:
            return self.frame.length, self.frame.length
        spans = [span(part) for part in self.field]
        return sum(least for least, _ in spans), sum(most for _, most in spans)


def span(part: Part) -> tuple[int, int]:
    """The least and the greatest number of characters of a field."""
    match part:
        case Status():
            sizes = [len(word) for word in part.words]
            return min(sizes), max(sizes)
        case Fixed():
            return len(part.text), len(part.text)
        case Space():
            return part.least, part.most
        case Sign():
            return (0 if part.optional else 1), 1
        case Ignored():
            return part.width, part.width
        case Number():
            if part.width:
                return part.width, part.width
            sizes = [len(text) for text in part.missing]
            return min([1, *sizes]), max(
                [MOST_NUMBER, *(2 * MOST_BLANKS + 1 + one for one in sizes)]
            )
        case UnitWord():
            sizes = [len(word) for word in part.words]
            least, most = (part.width, part.width) if part.width else (min(sizes), max(sizes))
            absent = (part.only_when_stable or part.optional) and not part.width
            return (0 if absent else least), most


def _problems(shape: WireShape) -> list[str]:
    """What the fields of a shape say against each other."""
    out: list[str] = []
    numbers = [part for part in shape.field if isinstance(part, Number)]
    units = [part for part in shape.field if isinstance(part, UnitWord)]
    signs = [part for part in shape.field if isinstance(part, Sign)]
    if not numbers:
        out.append("no field is a number")
    if len(units) > 1:
        out.append("more than one field is a unit")
    if len(signs) > 1 or (signs and any(number.sign for number in numbers)):
        out.append("two fields may carry a sign: set sign = false on the number")
    if len(numbers) > 1 and any(number.sign for number in numbers):
        out.append("of several numbers none has a sign of its own: add a field of kind sign")
    if len(numbers) > 1 and any(number.unit is None for number in numbers):
        out.append("each of several numbers needs a unit of its own")
    if units and any(number.unit for number in numbers):
        out.append("a number with a unit of its own leaves no place for a unit field")
    if shape.needs_unit and shape.unit is None:
        out.append('lines without a unit need an implied one: unit = "g"')
    out += _frame_problems(shape)
    return out


def _frame_problems(shape: WireShape) -> list[str]:
    out: list[str] = []
    frame, check = shape.frame, shape.check
    if shape.span[0] > LONGEST:
        out.append(f"a report may have {LONGEST} characters at most")
    out += _end_in_text(shape)
    least, most = (sum(sizes) for sizes in zip(*map(span, shape.field), strict=True))
    if not frame.end and least != most:
        out.append("without an end every field needs one width")
    if frame.length is not None and not least <= frame.length <= most:
        out.append(f"the fields make {least} to {most} characters, never {frame.length}")
    if check is None:
        return out
    if check.place == "after end" and not frame.start:
        out.append("a check after the end needs a start: else it looks like the next report")
    if check.place == "after end" and not frame.end:
        out.append('without an end the check stands "after data"')
    if check.written == "byte" and check.place == "after data" and frame.length is None:
        out.append("a raw check byte before the end may look like the end: give the length")
    return out


def _end_in_text(shape: WireShape) -> list[str]:
    """Texts that hold a character of the start or the end could never be told from these."""
    end = b"\r\n" if shape.frame.end == "any" else mark_bytes(shape.frame.end)
    marks = {chr(code) for code in end + mark_bytes(shape.frame.start)}
    texts: list[str] = []
    for part in shape.field:
        match part:
            case Status() | UnitWord():
                texts += part.words
            case Number():
                texts += [*part.missing, "0123456789.,+- "]
            case Fixed():
                texts.append(part.text)
            case Ignored():
                texts.append(part.among or PRINTABLE)
            case Space():
                texts.append(" ")
            case Sign():
                texts.append("+- ")
    return [
        f"{text!r} holds a character of the start or the end" for text in texts if set(text) & marks
    ]
