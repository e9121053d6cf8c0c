"""A label of a lot as SVG: name, code, dates, mass, storage, allergens, and a QR code of its lot.

62 mm wide, as high as it has to be; black on white. The QR code holds the lot's code alone, or,
where there is a trade number, a GS1 Digital Link address with both (a plain QR code cannot mark GS1
element strings as such). Text is set in whatever sans-serif the printer's computer has, and broken
by a count of letters that is on the safe side for it.
"""

from __future__ import annotations

import textwrap
from html import escape

from weighd.reports.typeset import qr_path
from weighd.station.labels import Label

WIDE_MM = 62
_EDGE, _QR = 4, 22
#: Letters of a line: across the label, and beside the code.
_ACROSS, _BESIDE, _TITLE, _LOUD = 27, 15, 16, 18


def label_svg(label: Label) -> str:
    """The label. The same label gives the same text."""
    out, y = list[str](), 0.0
    for line in textwrap.wrap(label.name, _TITLE):
        y += 5.8
        out.append(_text(_EDGE, y, 4.6, line, bold=True))
    for line in textwrap.wrap(label.code, _TITLE):
        y += 5.8
        out.append(_text(_EDGE, y, 4.6, line))
    y += 2
    out.append(_code(label.scanned, WIDE_MM - _EDGE - _QR, y))
    beside = y - 1
    rest: list[str] = []
    for word, what in label.lines():
        lines = textwrap.wrap(f"{word} {what}", _BESIDE)
        if not rest and beside + 4.2 * len(lines) <= y + _QR:
            for line in lines:
                beside += 4.2
                out.append(_text(_EDGE, beside, 3.2, line))
        else:
            rest += textwrap.wrap(f"{word} {what}", _ACROSS)
    y = max(beside, y + _QR) + 1.5
    for line in rest:
        y += 4.2
        out.append(_text(_EDGE, y, 3.2, line))
    if label.contains:
        y += 1.5
        for line in textwrap.wrap(label.contains, _LOUD):
            y += 4.6
            out.append(_text(_EDGE, y, 3.5, line, bold=True))
    high = round(y + _EDGE, 1)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{WIDE_MM}mm" height="{high}mm" '
        f'viewBox="0 0 {WIDE_MM} {high}" font-family="DejaVu Sans, Arial, sans-serif">\n'
        f'<rect width="{WIDE_MM}" height="{high}" fill="#fff"/>\n' + "\n".join(out) + "\n</svg>\n"
    )


def _text(x: float, y: float, size: float, text: str, *, bold: bool = False) -> str:
    weight = ' font-weight="bold"' if bold else ""
    return f'<text x="{x}" y="{y:.1f}" font-size="{size}"{weight}>{escape(text)}</text>'


def _code(text: str, x: float, y: float) -> str:
    marks, modules = qr_path(text)
    return f'<path transform="translate({x} {y:.1f}) scale({_QR / modules:.4f})" d="{marks}"/>'
