"""What a scale may print and what it says, for every codec test.

Unless a source stands beside a case, the print is common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from weighd.domain.mass import Unit
from weighd.domain.reading import Reading
from weighd_drivers.shape_text import shipped
from weighd_drivers.shapes import Check, Frame, Number, Sign, Space, Status, UnitWord, WireShape


@dataclass(frozen=True)
class Case:
    """One report: ``shape`` by name or as a value, and the reading it is."""

    shape: str | WireShape
    report: bytes
    grams: str | None
    shown: str | None = None
    unit: Unit | None = None
    stable: bool | None = None
    over: bool = False
    fault: str = ""

    def value(self) -> WireShape:
        """The shape itself."""
        return shipped()[self.shape] if isinstance(self.shape, str) else self.shape

    def says(self) -> tuple[object, ...]:
        """What the reading must say."""
        return (self.grams, self.shown, self.unit, self.stable, self.over, self.fault)

    def __str__(self) -> str:
        return f"{self.value().name} {self.report!r}"


def said(reading: Reading) -> tuple[object, ...]:
    """A reading as :meth:`Case.says` has it."""

    def text(value: Decimal | None) -> str | None:
        return None if value is None else format(value, "f")

    return (
        text(reading.grams),
        text(reading.shown),
        reading.unit,
        reading.stable,
        reading.over,
        reading.fault,
    )


def own(frame: Frame, check: Check | None = None) -> WireShape:
    """A shape of fixed widths: status, sign, six characters, unit in two."""
    return WireShape(
        name="own",
        frame=frame,
        check=check,
        field=(
            Status(words={"S": "stable", "M": "moving"}),
            Sign(),
            Number(width=6, sign=False),
            UnitWord(width=2),
        ),
    )


PLAIN = own(Frame())
#: Start and a fixed length, no end: as a status byte, digits and unit always fill ten places.
FIXED = own(Frame(start="STX", end="", length=10))
HEX_BEFORE_END = own(Frame(end="CR LF"), Check(kind="sum", written="hex", place="after data"))
NEGATED = own(
    Frame(start="STX", end="ETX"),
    Check(kind="negated sum", written="hex", covers="start+data+end", place="after end"),
)
BYTE_BEFORE_END = own(
    Frame(end="CR", length=10), Check(kind="xor", written="byte", place="after data")
)
SEVEN_BITS = own(Frame(end="CR LF", seven_bit=True))
IMPLIED = WireShape(
    name="implied",
    unit=Unit.KG,
    frame=Frame(end="CR LF"),
    field=(Number(point="none", decimals=3, sign=False), Space(most=2), Sign(optional=True)),
)


def even_parity(data: bytes) -> bytes:
    """Seven-bit characters as they look with even parity read as eight bits."""
    return bytes(code | 0x80 if code.bit_count() % 2 else code for code in data)


BODY = b"S+ 125.0 g"


def xor(data: bytes) -> int:
    """Exclusive or, apart from the code under test."""
    value = 0
    for code in data:
        value ^= code
    return value


G, KG, LB, OZ = Unit.G, Unit.KG, Unit.LB, Unit.OZ
CASES = [
    Case("status-digits-unit", b"ST,GS,+  123.4 g\r", "123.4", "123.4", G, True),
    Case("status-digits-unit", b"US,NT,-    0.2 g\r", "-0.2", "-0.2", G, False),
    Case("status-digits-unit", b"ST,+0012.500kg\r", "12500.000", "12.500", KG, True),
    Case("status-digits-unit", b"OL,GS,-------\r", None, over=True),
    Case("status-digits-unit", b"UL,+ ------ g\r", None, fault="under"),
    Case("status-digits-unit", b"ST,GS,+  12,34 g\r", "12.34", "12.34", G, True),
    Case("status-sign-digits-unit", b"ST,+   1234.5 g\r", "1234.5", "1234.5", G, True),
    Case("status-sign-digits-unit", b"MV,-      0.3 g\r", "-0.3", "-0.3", G, False),
    Case("status-sign-digits-unit", b"OV,+ -------- g\r", None, over=True),
    Case("status-sign-digits-unit", b"ZE,+ -------- g\r", None, fault="zero error"),
    Case("letter-digits-unit", b"S   123.4 g\r", "123.4", "123.4", G, True),
    Case("letter-digits-unit", b"M   -98.7 g \r", "-98.7", "-98.7", G, False),
    Case("digits-unit", b"+  123.4 g\r", "123.4", "123.4", G),
    Case("digits-unit", b"   -98.7 g\r", "-98.7", "-98.7", G),
    Case("digits-unit", b"-   98.7 g\r", "-98.7", "-98.7", G),
    Case("digits-unit", b"  1.234 kg\r", "1234.000", "1.234", KG),
    Case("digits-unit", b"-0.0 g\n", "0.0", "0.0", G),
    Case("digits-unit", b"12.5 ct\r", "2.50", "12.5", Unit.CT),
    Case("digits-unit", b"7 mg\r", "0.007", "7", Unit.MG),
    Case("digits-unit", b"1 oz\r", "28.349523125", "1", OZ),
    Case("digits-unit", b"1 lb\r", "453.59237", "1", LB),
    Case("digits", b"+  123.4\r", "123.4", "123.4", G),
    Case("digits", b"-12,5 \r", "-12.5", "-12.5", G),
    Case("unit-when-stable", b"+  123.4 g\r", "123.4", "123.4", G, True),
    Case("unit-when-stable", b"+  123.4\r", "123.4", "123.4", G, False),
    Case("framed", b"\x02S+   125.0 g \x03", "125.0", "125.0", G, True),
    Case("framed", b"\x02M-  1.250kg\x03", "-1250.000", "-1.250", KG, False),
    Case("framed", b"\x02O+ -------g\x03", None, over=True),
    Case("framed-xor", b"\x02S+   125.0 g \x03\x14", "125.0", "125.0", G, True),
    Case("pounds-ounces", b" 2 lb  3.4 oz\r", "1003.5731186250", "35.4", OZ),
    Case("pounds-ounces", b"-0 lb  8.0 oz\r", "-226.7961850000", "-8.0", OZ),
    Case("scp-0499", b"\nO1G  ----------lb \r", None, over=True),
    Case("scp-0499", b"\nE1G  ----------g  \r", None, fault="zero error"),
    Case(PLAIN, BODY + b"\r", "125.0", "125.0", G, True),
    Case(FIXED, b"\x02" + BODY, "125.0", "125.0", G, True),
    Case(HEX_BEFORE_END, BODY + b"%02X\r\n" % (sum(BODY) % 256), "125.0", "125.0", G, True),
    Case(
        NEGATED,
        b"\x02" + BODY + b"\x03" + b"%02x" % (-(sum(BODY) + 5) % 256),
        "125.0", "125.0", G, True,
    ),
    Case(BYTE_BEFORE_END, BODY + bytes([xor(BODY)]) + b"\r", "125.0", "125.0", G, True),
    Case(SEVEN_BITS, even_parity(BODY + b"\r\n"), "125.0", "125.0", G, True),
    Case(IMPLIED, b"1250 -\r\n", "-1250.000", "-1.250", KG),
]  # fmt: skip
