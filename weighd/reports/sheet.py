"""The record sheet of a batch as PDF/A: everything that is recorded of it, to sign and put away.

Its clock is the record's, so that the same record gives the same bytes. What cannot be set is not
left out: ``printable`` tells characters that the fonts have not.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

from weighd.reports.printable import printables
from weighd.reports.sheet_data import Checked, sheet_data
from weighd.reports.sheet_shapes import SHAPES
from weighd.reports.typeset import Template, qr_svg

SHEET = Template("sheet.typ", "The sheet", "Export the record as JSON or CSV; they hold all of it.")


def sheet_pdf(document: Mapping[str, Any], checked: Checked) -> bytes:
    """The sheet of a record. Raises :class:`OperatorError`, ``cannot-typeset``."""
    return _set(document, checked, "pdf")[0]


def sheet_png(document: Mapping[str, Any], checked: Checked, ppi: float = 144) -> list[bytes]:
    """Its pages as pictures, to look at. Raises as :func:`sheet_pdf` does."""
    return _set(document, checked, "png", ppi)


def _set(
    document: Mapping[str, Any], checked: Checked, form: str, ppi: float | None = None
) -> list[bytes]:
    data = sheet_data(document, checked)
    return SHEET.pages(lambda plain: _inputs(data, plain=plain), str(data["batch"]), form, ppi)


def _inputs(data: Mapping[str, Any], *, plain: bool) -> dict[str, str]:
    code = str(data["qr"]).encode("utf-8", "replace").decode("utf-8")[:600]
    return {
        "sheet": json.dumps(printables(data, plain=plain)),
        "shapes": json.dumps(SHAPES),
        "qr": qr_svg(code)[0],
    }
