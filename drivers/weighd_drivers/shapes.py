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

from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from weighd.domain.mass import Unit
from weighd_drivers.shape_parts import (
    CONTROL,
    LONGEST,
    MOST_BLANKS,
    MOST_DECIMALS,
    MOST_DIGITS,
    MOST_NUMBER,
    PRINTABLE,
    UNIT_WORDS,
    Fixed,
    Ignored,
    Meaning,
    Number,
    Part,
    Sign,
    Space,
    Status,
    Table,
    Text,
    UnitWord,
    mark_bytes,
    span,
)

__all__ = [
    "CONTROL", "LONGEST", "MOST_BLANKS", "MOST_DECIMALS", "MOST_DIGITS", "MOST_NUMBER",
    "PRINTABLE", "UNIT_WORDS", "Check", "Fixed", "Frame", "Ignored", "Meaning", "Number", "Part",
    "Sign", "Space", "Status", "UnitWord", "WireShape", "mark_bytes", "span",
]  # fmt: skip


class Frame(Table):
    """Where a report begins and ends.

    ``start``      control names, ``0x1B`` or single characters with blanks between: ``STX``.
    ``end``        likewise, ``CR LF``; ``any`` is CR, LF or both. An empty one needs start and
                   length.
    ``length``     the number of characters between start and end, check not counted.
    ``seven_bit``  the eighth bit is parity and is taken off before anything else.
    ``parity``     what that bit must be; a report with a character of another parity is not
                   read. For lines of seven bits that reach us as eight.
    """

    start: str = ""
    end: str = "any"
    length: Annotated[int, Field(ge=1, le=LONGEST)] | None = None
    seven_bit: bool = False
    parity: Literal["none", "even", "odd"] = "none"

    @model_validator(mode="after")
    def _delimited(self) -> Self:
        if self.parity != "none" and not self.seven_bit:
            raise ValueError("parity needs seven_bit = true")
        mark_bytes(self.start)
        if self.end != "any":
            mark_bytes(self.end)
        if not self.end and not (self.start and self.length):
            raise ValueError("without an end, both start and length say where a report ends")
        return self


class Check(Table):
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


class WireShape(Table):
    """How one report of a scale is written on the line. Frozen; equal when it says the same.

    ``shape``   the version of this format, 1.
    ``name``    what it is called: lower-case letters, digits, hyphens.
    ``title``   what a report is, in words.
    ``source``  where that was learned.
    ``unit``    the implied unit: of lines that print none.
    ``frame``   where a report begins and ends, ``[frame]``.
    ``check``   its check character, ``[check]``; without it there is none.
    ``field``   what stands between start and end, in order: ``[[field]]`` for each.
    ``texts``   whole reports without a weight, and what they say.
    ``others``  how reports begin that are known and are no weight of the load (a tare, a net
                beside the gross, a date): they are passed over, neither read nor counted.
    """

    shape: Literal[1] = 1
    name: Annotated[str, Field(pattern=r"^[a-z0-9][a-z0-9-]{0,62}$")]
    title: Annotated[str, Field(max_length=200)] = ""
    source: Annotated[str, Field(max_length=400)] = ""
    unit: Unit | None = None
    frame: Frame = Frame()
    check: Check | None = None
    texts: dict[Text, Meaning] = Field(default_factory=dict, max_length=32)
    others: Annotated[tuple[Text, ...], Field(max_length=32)] = ()
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
    if set(mark_bytes(frame.start)) & set(_end_bytes(frame)):
        out.append("start and end share a character: what ends one report would begin the next")
    if any(text in shape.others or text.startswith(shape.others) for text in shape.texts):
        out.append("one of texts begins like one of others")
    fixed = not frame.end or (check and check.place == "after data" and check.written == "byte")
    if fixed and any(len(text) != shape.span[0] for text in shape.texts):
        out.append("texts must be as long as every other report here")
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


def _end_bytes(frame: Frame) -> bytes:
    return b"\r\n" if frame.end == "any" else mark_bytes(frame.end)


def _end_in_text(shape: WireShape) -> list[str]:
    """Texts that hold a character of the start or the end could never be told from these."""
    marks = {chr(code) for code in _end_bytes(shape.frame) + mark_bytes(shape.frame.start)}
    texts: list[str] = []
    for part in shape.field:
        match part:
            case Status() | UnitWord():
                texts += part.words
            case Number():
                texts += [*part.missing, "0123456789.,+- " + part.thousands]
            case Fixed():
                texts.append(part.text)
            case Ignored():
                texts.append(part.among or PRINTABLE)
            case Space():
                texts.append(" ")
            case Sign():
                texts.append("+- ")
    texts += [*shape.texts, *shape.others]
    return [
        f"{text!r} holds a character of the start or the end" for text in texts if set(text) & marks
    ]
