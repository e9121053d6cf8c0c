"""Prints of scales as they are found in practice, generated: what each says and how it is damaged.

Every one is our own invention after common practice, no source. A :class:`Print` writes a load
as one report (of one line or several); :func:`scenario` is what happens on the scale; and
:data:`FAULTS` are what a bad cable does to the bytes.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from decimal import Decimal

from weighd.domain.mass import Unit, to_grams

Said = tuple[Decimal | None, bool, str]


@dataclass(frozen=True)
class Load:
    """What is to be printed: a number in the unit of the display, or why there is none."""

    value: Decimal | None
    stable: bool
    why: str = ""  # over, under
    minus_zero: bool = False


@dataclass(frozen=True)
class Print:
    """How one invented scale writes.

    ``words``  stable, moving, over, under; ``place`` of the word; ``after`` stands behind it.
    ``sign``   ``float``: beside the digits; ``plus``: in a place of its own, + or -; ``blank``:
               the same with a blank for plus; ``behind``: after the digits; ``none``.
    ``texts``  what is printed for over and under: in place of the digits, or as a whole line.
    ``check``  kind, written, covers.
    """

    name: str
    words: tuple[str, str, str, str] | None = None
    after: str = ","
    place: str = "before"
    sign: str = "float"
    width: int = 8
    fill: str = " "
    decimals: int = 1
    point: str = "."
    thousands: str = ""
    unit: str = "g"
    unit_at: str = "after"  # after, before, stable, stable blank, none
    gap: str = " "
    start: bytes = b""
    end: bytes = b"\r\n"
    check: tuple[str, str, str] | None = None
    check_at: str = "end"
    parity: str = ""
    texts: tuple[str, str] | None = None
    whole: bool = False
    pounds: str = ""  # lb:oz, as a format of pounds and ounces
    others: tuple[str, ...] = ()  # lines beside it, {} for a number
    label: str = ""
    lead: str = ""  # before it all; {} for a count
    implied: Unit = Unit.G
    flag: bool = field(init=False, default=True)

    def report(self, load: Load) -> bytes:
        """The bytes of one report, with the lines that stand beside it."""
        own = self._framed(self._body(load))
        before, after = b"", b""
        for n, line in enumerate(self.others):
            number = f"{(load.value or Decimal(0)) - 20:{self.width}.{self.decimals}f}"
            other = self._framed(line.replace("{}", number))
            if n % 2 == 0:
                after += other
            else:
                before += other
        return _even(before + own + after, self.parity)

    def own_line(self, load: Load) -> bytes:
        """The line that carries the weight."""
        return _even(self._framed(self._body(load)), self.parity)

    def says(self, load: Load) -> Said:
        """Grams, over and fault of a report."""
        if load.value is None:
            return None, load.why == "over", "" if load.why == "over" else load.why
        return to_grams(load.value, self._unit()), False, ""

    def _unit(self) -> Unit:
        if self.pounds:
            return Unit.OZ
        return self.implied if self.unit_at == "none" else Unit(self.unit.lower())

    def _body(self, load: Load) -> str:
        if load.value is None and self.texts is not None and self.whole:
            return self.texts[0 if load.why == "over" else 1]
        if self.pounds:
            value = load.value or Decimal(0)
            pounds, ounces = divmod(abs(value), 16)
            line = self.pounds.format(int(pounds), ounces)
            return ("-" if value < 0 else " ") + line
        number = self._number(load)
        unit = self.unit
        if self.unit_at == "none":
            out = number
        elif self.unit_at == "before":
            out = unit + self.gap + number
        elif self.unit_at == "after" or load.stable:
            out = number + self.gap + unit
        else:
            out = number + (self.gap + " " * len(unit) if self.unit_at == "stable blank" else "")
        if self.words is not None:
            n = {"over": 2, "under": 3}.get(load.why, 0 if load.stable else 1)
            word = self.words[n]
            out = word + self.after + out if self.place == "before" else out + self.after + word
        return self.lead + self.label + out

    def _number(self, load: Load) -> str:
        if load.value is None:
            text = "-" * (self.width or 6) if self.texts is None else ""
            text = text or (self.texts or ("", ""))[0 if load.why == "over" else 1]
            blank = "" if self.sign in {"float", "none"} else " "
            text = text.rjust(self.width)
            return text + blank if self.sign == "behind" else blank + text
        size = f"{abs(load.value):,.{self.decimals}f}" if self.thousands else ""
        size = size or f"{abs(load.value):.{self.decimals}f}"
        size = size.replace(",", "T").replace(".", self.point).replace("T", self.thousands)
        minus = load.value < 0 or load.minus_zero
        width = self.width
        match self.sign:
            case "float":
                mark = "-" if minus else ""
                if self.fill == "0":
                    return mark + size.rjust(width - len(mark), "0")
                return (mark + size).rjust(width)
            case "plus":
                return ("-" if minus else "+") + size.rjust(width, self.fill)
            case "blank":
                return ("-" if minus else " ") + size.rjust(width, self.fill)
            case "behind":
                return size.rjust(width, self.fill) + ("-" if minus else " ")
        return size.rjust(width, self.fill)

    def _framed(self, text: str) -> bytes:
        data = text.encode("ascii")
        if self.check is None:
            return self.start + data + self.end
        kind, written, covers = self.check
        covered = {
            "data": data,
            "start+data": self.start + data,
            "data+end": data + self.end,
            "start+data+end": self.start + data + self.end,
        }[covers]
        value = 0
        for code in covered:
            value = value ^ code if kind == "xor" else value + code
        if kind == "negated sum":
            value = -value
        value &= 0x7F if self.parity and written == "byte" else 0xFF
        sent = bytes([value]) if written == "byte" else b"%02X" % value
        if self.check_at == "data":
            return self.start + data + sent + self.end
        return self.start + data + self.end + sent


def _even(data: bytes, parity: str) -> bytes:
    if not parity:
        return data
    odd = parity == "odd"
    return bytes(code | 0x80 if (code.bit_count() % 2 == 1) != odd else code for code in data)


def scenario(one: Print, seed: int = 1, turns: int = 1) -> list[Load]:
    """Zero, a pour, a rest, another, a load taken off, below zero, over and under, and zero."""
    chance = random.Random(seed)
    step = Decimal(1).scaleb(-one.decimals)
    top = {"kg": Decimal("2.4"), "lb": Decimal("5.2"), "oz": Decimal(84)}.get(
        "oz" if one.pounds else one.unit if one.unit_at != "none" else one.implied, Decimal(2412)
    )
    out: list[Load] = []
    for _ in range(turns):
        value = Decimal(0)
        out += [Load(value, True)] * 5
        for share in ("0.13", "0.41", "1"):
            goal = (top * Decimal(share)).quantize(step)
            while value < goal:
                grown = value + max(step, (goal / 9 * Decimal(chance.random())).quantize(step))
                value = min(goal, grown).quantize(step)
                out.append(Load(value, False))
            out += [Load(value, True)] * 6
        if one.texts is not None or one.words is not None:
            out += [Load(None, False, "over")] * 4
        out += [Load((top * Decimal("0.7")).quantize(step), False), Load(step * 3, False)]
        if one.sign != "none":
            low = -(top * Decimal("0.05")).quantize(step)
            out += [Load(low, False), *[Load(low, True)] * 4]
            if not one.pounds:
                out += [Load(Decimal(0).quantize(step), True, minus_zero=True)] * 2
        if one.texts is not None or one.words is not None:
            out += [Load(None, False, "under")] * 4
        out += [Load(Decimal(0).quantize(step), True)] * 4
    return out


# --- faults ----------------------------------------------------------------------------------

Fault = Callable[[list[bytes], random.Random], list[bytes]]
SHARE = 0.15


def _some(change: Callable[[bytes, random.Random], bytes]) -> Fault:
    def damaged(reports: list[bytes], chance: random.Random) -> list[bytes]:
        return [change(one, chance) if chance.random() < SHARE else one for one in reports]

    return damaged


def _flip(one: bytes, chance: random.Random) -> bytes:
    at = chance.randrange(len(one))
    return one[:at] + bytes([one[at] ^ 1 << chance.randrange(8)]) + one[at + 1 :]


def _other(one: bytes, chance: random.Random) -> bytes:
    at = chance.randrange(len(one))
    return one[:at] + bytes([chance.choice(b"0123456789 -+.,gkSU\xff")]) + one[at + 1 :]


def _drop(one: bytes, chance: random.Random) -> bytes:
    at = chance.randrange(len(one))
    return one[:at] + one[at + 1 :]


def _cut(one: bytes, chance: random.Random) -> bytes:
    return one[: chance.randrange(len(one))]


def _tail(one: bytes, chance: random.Random) -> bytes:
    return one[chance.randrange(len(one)) :]


def _merge(one: bytes, _chance: random.Random) -> bytes:
    return one.rstrip(b"\r\n\x03\x8d\x8a")


def _garbage(one: bytes, chance: random.Random) -> bytes:
    at = chance.randrange(len(one))
    noise = bytes(chance.randrange(256) for _ in range(chance.randrange(1, 9)))
    return one[:at] + noise + one[at:]


FAULTS: dict[str, Fault] = {
    "flipped": _some(_flip),
    "replaced": _some(_other),
    "dropped": _some(_drop),
    "truncated": _some(_cut),
    "headless": _some(_tail),
    "merged": _some(_merge),
    "garbage": _some(_garbage),
}


# --- the prints ------------------------------------------------------------------------------

ST = ("ST", "US", "OL", "UL")
SM = ("S", "M", "O", "U")
LONG = ("STABLE", "MOTION", "OVER", "UNDER")
STX, ETX = b"\x02", b"\x03"


def _all() -> Sequence[Print]:
    plain = Print("plain")
    word = Print("word", words=ST)
    frame = Print("frame", words=SM, after="", sign="plus", start=STX, end=ETX)
    return [
        plain,
        replace(plain, name="cr", end=b"\r"),
        replace(plain, name="lf", end=b"\n"),
        replace(plain, name="lf first", start=b"\n", end=b"\r"),
        replace(plain, name="plus", sign="plus"),
        replace(plain, name="blank sign", sign="blank"),
        replace(plain, name="sign behind", sign="behind", gap=""),
        replace(plain, name="zeros", sign="plus", fill="0", gap=""),
        replace(plain, name="zeros and minus", fill="0", gap=""),
        replace(plain, name="unpadded", width=0),
        replace(plain, name="unpadded, no gap", width=0, gap=""),
        replace(plain, name="comma", point=","),
        replace(plain, name="comma, kilograms", point=",", unit="kg", decimals=3),
        replace(plain, name="thousands", thousands=",", width=9),
        replace(plain, name="thousands by points", thousands=".", point=",", width=9),
        replace(plain, name="thousands by blanks", thousands=" ", width=9),
        replace(plain, name="thousands by apostrophes", thousands="'", width=9),
        replace(plain, name="kilograms", unit="kg", decimals=3),
        replace(plain, name="pounds", unit="lb", decimals=2),
        replace(plain, name="ounces", unit="oz", decimals=2),
        replace(plain, name="capitals", unit="KG", decimals=3, gap=""),
        replace(plain, name="whole grams", decimals=0),
        replace(plain, name="unit before", unit_at="before"),
        replace(
            plain, name="unit before, plus", unit_at="before", sign="plus", unit="kg", decimals=3
        ),
        replace(plain, name="unit when stable", unit_at="stable"),
        replace(plain, name="unit when stable, in its place", unit_at="stable blank", sign="plus"),
        replace(plain, name="digits", unit_at="none"),
        replace(plain, name="digits, plus", unit_at="none", sign="plus"),
        replace(plain, name="digits, zeros", unit_at="none", sign="plus", fill="0"),
        replace(plain, name="digits in kilograms", unit_at="none", implied=Unit.KG, decimals=3),
        replace(plain, name="digits in STX CR", unit_at="none", start=STX, end=b"\r"),
        replace(plain, name="texts", texts=("OVER", "UNDER")),
        replace(plain, name="short texts", texts=("OL", "UL")),
        replace(plain, name="whole texts", texts=("OVERLOAD", "UNDERLOAD"), whole=True),
        replace(plain, name="rows of letters", texts=("HHHHHH", "LLLLLL"), sign="plus"),
        word,
        replace(word, name="word, plus", sign="plus"),
        replace(word, name="word, gross", words=("ST,GS", "US,GS", "OL,GS", "UL,GS"), sign="plus"),
        replace(word, name="word, net", words=("ST,NT", "US,NT", "OL,NT", "UL,NT"), sign="plus"),
        replace(word, name="word, blank", after=" "),
        replace(word, name="word, comma decimals", point=",", sign="blank"),
        replace(word, name="word, cr", end=b"\r", sign="plus", unit="kg", decimals=3),
        replace(word, name="long words", words=LONG, after=" "),
        replace(
            word, name="padded words", words=("Stable  ", "Unstable", "Overload", "Underload"[:8])
        ),
        replace(word, name="letter", words=SM, after=" "),
        replace(word, name="letter, unpadded", words=SM, after=" ", width=0),
        replace(word, name="letter behind", words=SM, place="behind", after=" "),
        replace(word, name="mark behind", words=(" ", "?", "O", "U"), place="behind", after=" "),
        replace(
            plain,
            name="star behind",
            words=("*", " ", "*", " "),
            place="behind",
            after="",
            texts=("OVER", "UNDER"),
        ),
        replace(word, name="word behind", words=ST, place="behind", sign="plus", fill="0"),
        replace(
            word,
            name="letter, kg, sign behind",
            words=SM,
            after=" ",
            sign="behind",
            unit="kg",
            decimals=3,
        ),
        replace(word, name="number of the scale", lead="01 ", words=ST, after=" "),
        frame,
        replace(frame, name="frame, line end", end=ETX + b"\r\n"),
        replace(frame, name="frame to CR", end=b"\r"),
        replace(frame, name="frame to CR LF", end=b"\r\n", sign="blank"),
        replace(frame, name="frame without words", words=None),
        replace(frame, name="frame of one length", end=b""),
        replace(frame, name="xor", check=("xor", "byte", "data+end")),
        replace(frame, name="xor of all", check=("xor", "byte", "start+data+end")),
        replace(frame, name="xor of the data", check=("xor", "byte", "data")),
        replace(frame, name="xor in hex", check=("xor", "hex", "data")),
        replace(frame, name="sum", check=("sum", "byte", "data")),
        replace(frame, name="sum in hex", check=("sum", "hex", "start+data")),
        replace(frame, name="negated sum", check=("negated sum", "hex", "data+end")),
        replace(frame, name="xor before the end", check=("xor", "hex", "data"), check_at="data"),
        replace(frame, name="byte before the end", check=("xor", "byte", "data"), check_at="data"),
        replace(word, name="line with a sum", check=("sum", "hex", "data"), check_at="data"),
        replace(
            word,
            name="line with an xor",
            check=("xor", "hex", "data"),
            check_at="data",
            sign="plus",
        ),
        replace(plain, name="seven bits, even", parity="even", sign="plus"),
        replace(word, name="seven bits, odd", parity="odd"),
        replace(frame, name="seven bits and xor", parity="even", check=("xor", "byte", "data+end")),
        replace(plain, name="pounds and ounces", pounds="{:2d} lb {:4.1f} oz"),
        replace(plain, name="pounds and ounces, a colon", pounds="{:3d}:{:04.1f}"),
        replace(plain, name="gross, net, tare", label="G ", others=("N {} g", "T   20.0 g")),
        replace(plain, name="gross and net by name", label="Gross: ", others=("Net:   {} g",)),
        replace(
            plain,
            name="gross and net in words",
            words=("ST,GS,", "US,GS,", "OL,GS,", "UL,GS,"),
            after="",
            sign="plus",
            others=("ST,NT,+{} g",),
        ),
        replace(
            plain,
            name="a ticket",
            label="Gross ",
            others=("Tare      20.0 g", "No. 0017", "----------------"),
        ),
        replace(plain, name="a date beside it", others=("Date 12.03.26",)),
    ]


PRINTS = _all()
