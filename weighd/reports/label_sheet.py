"""Labels as PDF/A, set by typst: one a page, or as many on a sheet as fit.

All of a label fits its box: letters are made smaller for that, but never smaller than can be read
(an x-height of 0.9 mm, on 80 cm² and more of 1.2 mm, as Regulation (EU) 1169/2011 asks for in
Article 13, from memory; Libertinus has 0.43 of its size). What does not fit then is refused.
"""

from __future__ import annotations

import json
import re
import unicodedata
from collections.abc import Iterable, Mapping
from typing import Any

from weighd.domain.errors import OperatorError
from weighd.domain.label_size import LabelSize
from weighd.reports.printable import COVERED, printables
from weighd.reports.typeset import Template, TooSmallError, qr_svg
from weighd.station.labels import Label

LABELS = Template("label.typ", "The labels", "Print them with the browser, from the page.")
_EDGE_MM, _LARGE_MM2, _MOST_PT = 2.0, 8000.0, 20.0
#: Sizes with an x-height of 0.9 and 1.2 mm, and the side of a module of a code, in mm.
_LEAST_PT, _LEAST_LARGE_PT, _MODULE_MM = 6.0, 8.0, 0.4
#: Letters of a word that stand together where its line has no room for more.
_TOGETHER = 12
_LONG = re.compile(rf"\S{{{_TOGETHER + 1},}}")


def labels_pdf(labels: list[Label], size: LabelSize, form: str, day: str) -> bytes:
    """The labels. ``form``: how a trade number goes into the code; ``day`` dates the file.

    Raises :class:`OperatorError`, ``label-too-small`` or ``cannot-typeset``.
    """
    return _set(labels, size, form, day, "pdf")[0]


def labels_png(
    labels: list[Label], size: LabelSize, form: str, day: str, ppi: float = 300
) -> list[bytes]:
    """Their pages as pictures. Raises as :func:`labels_pdf` does."""
    return _set(labels, size, form, day, "png", ppi)


def not_in_fonts(labels: Iterable[Label]) -> list[str]:
    """Letters that these fonts have no picture of, each once: they are printed as numbers."""
    texts = [
        text
        for one in labels
        for text in (one.name, one.code, one.station, one.contains, *sum(one.lines(), ()))
    ]
    letters = dict.fromkeys("".join(unicodedata.normalize("NFC", one) for one in texts))
    return [one for one in letters if one not in COVERED and not one.isspace()]


def _set(
    labels: list[Label],
    size: LabelSize,
    form: str,
    day: str,
    kind: str,
    ppi: float | None = None,
) -> list[bytes]:
    try:
        return LABELS.pages(
            lambda plain: {"labels": json.dumps(_told(labels, size, form, day, plain=plain))},
            labels[0].code,
            kind,
            ppi,
        )
    except TooSmallError as error:
        raise OperatorError(
            "label-too-small",
            f"{labels[0].name}: not all of it fits on {size.wide} x {size.high} mm in "
            "letters that can be read.",
            where="size",
            remedy="Choose a larger label.",
        ) from error


def _told(
    labels: list[Label], size: LabelSize, form: str, day: str, *, plain: bool
) -> Mapping[str, Any]:
    wide, high = float(size.wide), float(size.high)
    across, down = (float(one) for one in (size.gap_across, size.gap_down))
    used = (
        size.across * wide + (size.across - 1) * across,
        size.down * high + (size.down - 1) * down,
    )
    page = (float(size.page_wide), float(size.page_high))
    return {
        "title": f"Labels of {labels[0].code}: {labels[0].name}",
        "date": [int(one) for one in day.split("-")],
        "language": labels[0].language,
        "page": page,
        "cell": (wide, high),
        "gap": (across, down),
        "first": [(whole - part) / 2 for whole, part in zip(page, used, strict=True)],
        "across": size.across,
        "down": size.down,
        "edge": _EDGE_MM,
        "most_pt": _MOST_PT,
        "least_pt": _LEAST_LARGE_PT if wide * high >= _LARGE_MM2 else _LEAST_PT,
        "labels": [_one(one, size, form, plain=plain) for one in labels],
    }


def _one(label: Label, size: LabelSize, form: str, *, plain: bool) -> Mapping[str, Any]:
    scanned = label.scanned_as(form)
    svg, modules = qr_svg(scanned, border=4)
    told = {
        "name": label.name,
        "code": label.code,
        "facts": [list(one) for one in label.lines()],
        "contains": label.contains,
        "foot": [one for one in (label.station, label.count) if one],
    }
    shown: dict[str, Any] = _breakable(printables(told, plain=plain))
    texts = [shown["name"], shown["code"], *(what for _, what in shown["facts"])]
    texts.append(shown["contains"])
    inside = (float(size.wide) - 2 * _EDGE_MM, float(size.high) - 2 * _EDGE_MM)
    room = min(0.34 * inside[0], 0.62 * inside[1], 34.0)
    return {
        **shown,
        "words": [word for one in texts for word in re.split(r"[\s\u200b]+", one) if word],
        "scanned": scanned,
        "qr": svg,
        "code_mm": min(max(modules * _MODULE_MM, room), *inside),
    }


def _breakable(value: Any) -> Any:
    """Texts with places where a long word may be broken: a label is narrower than a sheet."""
    if isinstance(value, str):
        return _LONG.sub(lambda it: "\u200b".join(_pieces(it[0])), value)
    if isinstance(value, Mapping):
        return {key: _breakable(one) for key, one in value.items()}
    return [_breakable(one) for one in value]


def _pieces(word: str) -> list[str]:
    return [word[n : n + _TOGETHER] for n in range(0, len(word), _TOGETHER)]
