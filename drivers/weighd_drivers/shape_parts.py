"""What a wire shape is made of: its fields, and the characters that may stand in each."""

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
Text = Annotated[str, Field(min_length=1, max_length=64, pattern=r"^[\x00-\x7e]+$")]


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


class Table(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, strict=True)


class Status(Table):
    """A status word. Words of different lengths are told apart by the longest that fits.

    ``words``  each word, and what it says: stable, moving, over, under, fault.
    """

    kind: Literal["status"] = "status"
    words: dict[Text, Meaning] = Field(min_length=1, max_length=64)


class Fixed(Table):
    """Exactly this text.

    ``text``  the text, always the same.
    """

    kind: Literal["literal"] = "literal"
    text: Text


class Space(Table):
    """From ``least`` to ``most`` blanks.

    ``least``  how many blanks there are at least.
    ``most``   how many there are at most.
    """

    kind: Literal["space"] = "space"
    least: _Count = 0
    most: _Count = 16

    @model_validator(mode="after")
    def _ordered(self) -> Self:
        if self.most < max(self.least, 1):
            raise ValueError("most must be at least one and not below least")
        return self


class Sign(Table):
    """A sign apart from the digits.

    ``blank``     a blank stands for plus.
    ``optional``  so does nothing at all.
    """

    kind: Literal["sign"] = "sign"
    blank: bool = False
    optional: bool = False


class Number(Table):
    """Digits.

    ``width``     how many characters it fills, padding and sign too: it is right-aligned then.
    ``point``     the decimal mark that is printed.
    ``sign``      a sign may stand before the digits; without ``width``, blanks between them too.
    ``decimals``  implied decimals, only where ``point`` is ``none``.
    ``places``    exactly so many decimals are printed; without it, any number of them. Without
                  ``width``, it also says that nothing is filled up with zeros.
    ``thousands`` what stands between groups of three digits, where it is printed.
    ``gap``       with ``width``: the sign may stand apart from the digits, with blanks between.
    ``missing``   texts that stand here when there is no weight, and what they say; aligned
                  like the digits.
    ``unit``      the unit of this number; with it, a line may hold several that are summed.
    """

    kind: Literal["number"] = "number"
    width: Annotated[int, Field(ge=1, le=32)] | None = None
    sign: bool = True
    point: Literal[".", ",", "either", "none"] = "."
    decimals: Annotated[int, Field(ge=0, le=9)] = 0
    places: Annotated[int, Field(ge=0, le=9)] | None = None
    thousands: Literal["", ",", ".", " ", "'"] = ""
    gap: bool = False
    missing: dict[Text, Meaning] = Field(default_factory=dict, max_length=16)
    unit: Unit | None = None

    @model_validator(mode="after")
    def _consistent(self) -> Self:
        if self.width and any(len(text) > self.width for text in self.missing):
            raise ValueError("a text in missing is longer than the width")
        if self.decimals and self.point != "none":
            raise ValueError('decimals are implied only where point = "none"')
        if self.places and self.point == "none":
            raise ValueError('places are counted after a point, and point = "none"')
        if self.thousands and self.thousands in {".": ".", ",": ",", "either": ".,"}.get(
            self.point, ""
        ):
            raise ValueError("point and thousands cannot be the same character")
        if self.gap and not (self.width and self.sign):
            raise ValueError("gap is for a number with a width and a sign")
        return self


class UnitWord(Table):
    """The unit.

    ``words``             each word for a unit, and which it is; the usual ones otherwise.
    ``width``             how many characters it fills, blanks on either side too.
    ``only_when_stable``  the unit (or, with ``width``, blanks in its place) tells stable from
                          moving; a line without it is in the implied unit, and so must be a
                          line with it.
    ``optional``          it may be missing, but only where there is no weight.
    """

    kind: Literal["unit"] = "unit"
    words: dict[Text, Unit] = Field(default_factory=lambda: dict(UNIT_WORDS), min_length=1)
    width: Annotated[int, Field(ge=1, le=16)] | None = None
    only_when_stable: bool = False
    optional: bool = False


class Ignored(Table):
    """Printable characters that say nothing of the weight.

    ``width``  how many.
    ``among``  which they may be; any where it is empty.
    """

    kind: Literal["ignored"] = "ignored"
    width: Annotated[int, Field(ge=1, le=64)] = 1
    among: Annotated[str, Field(max_length=95, pattern=r"^[\x20-\x7e]*$")] = ""


Part = Status | Fixed | Space | Sign | Number | UnitWord | Ignored


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
