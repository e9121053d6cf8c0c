"""The record sheet of a batch as PDF/A, set by typst from its wheel.

1. The template is a file of ours and the record is data beside it (``sys.inputs``): nothing that
   somebody typed is ever read as markup.
2. Fonts are those in typst's wheel, the clock is the record's, and nothing is fetched: the same
   record gives the same bytes.
3. What cannot be set is not left out: ``printable`` tells characters that the fonts have not.
4. It is set in a process of its own (``press``), which ends with it.
"""

from __future__ import annotations

import io
import json
import subprocess
import sys
from collections.abc import Mapping
from typing import Any

from weighd.domain.errors import OperatorError
from weighd.reports.printable import printables
from weighd.reports.sheet_data import Checked, sheet_data
from weighd.reports.sheet_shapes import SHAPES

#: A sheet takes a fifth of a second; one of a thousand weighings a few seconds.
PATIENCE_S = 60.0


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
    try:
        return pressed({"inputs": _inputs(data), "form": form, "ppi": ppi})
    except NotSetError:
        pass  # some text cannot be set as it is: with all but ASCII as numbers it can
    try:
        return pressed({"inputs": _inputs(data, plain=True), "form": form, "ppi": ppi})
    except NotSetError as error:
        raise OperatorError(
            "cannot-typeset",
            f"The sheet cannot be set: {error}.",
            where=str(data["batch"]),
            remedy="Export the record as JSON or CSV; they hold all of it.",
        ) from error


def press(asked: Mapping[str, Any], what: str) -> list[bytes]:
    """The pages of a template that holds nothing but plain text.

    Raises :class:`OperatorError`, ``cannot-typeset``.
    """
    try:
        return pressed(asked)
    except NotSetError as error:
        raise OperatorError(
            "cannot-typeset",
            f"The page cannot be set: {error}.",
            where=what,
            remedy="It is there as text and as JSON.",
        ) from error


class NotSetError(Exception):
    """It could not be set, and why."""


def pressed(asked: Mapping[str, Any]) -> list[bytes]:
    """The pages, as a process of its own makes them."""
    try:
        done = subprocess.run(
            [sys.executable, "-m", "weighd.reports.press"],
            input=json.dumps(asked).encode(),
            capture_output=True,
            timeout=PATIENCE_S,
            check=False,
        )
    except subprocess.TimeoutExpired as error:
        raise NotSetError(f"it took longer than {PATIENCE_S:.0f} s") from error
    except OSError as error:
        raise NotSetError(error.strerror or str(error)) from error
    if done.returncode:
        told = done.stderr.decode("utf-8", "replace").strip().split("\n")
        raise NotSetError(told[-1][:300] or f"it ended with {done.returncode}")
    lengths, pages = done.stdout.split(b"\n", 1)
    out = []
    for length in json.loads(lengths):
        out.append(pages[:length])
        pages = pages[length:]
    return out


def _inputs(data: Mapping[str, Any], *, plain: bool = False) -> dict[str, str]:
    return {
        "sheet": json.dumps(printables(data, plain=plain)),
        "shapes": json.dumps(SHAPES),
        "qr": _qr(str(data["qr"])),
    }


def _qr(text: str) -> str:
    """A QR code (ISO/IEC 18004) as SVG, a quarter of which may be worn off and it still reads."""
    import segno

    out = io.BytesIO()
    code = segno.make_qr(text.encode("utf-8", "replace").decode("utf-8")[:600], error="m")
    code.save(out, kind="svg", border=2, xmldecl=False, svgns=True, nl=False)
    return out.getvalue().decode("utf-8")
