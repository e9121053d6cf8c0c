"""The record sheet of a batch as PDF/A, set by typst from its wheel.

1. The template is a file of ours and the record is data beside it (``sys.inputs``): nothing that
   somebody typed is ever read as markup.
2. Fonts are those in typst's wheel, the clock is the record's, and nothing is fetched: the same
   record gives the same bytes.
3. What cannot be set is not left out: ``printable`` tells characters that the fonts have not.
"""

from __future__ import annotations

import io
import json
from collections.abc import Mapping
from importlib.resources import files
from typing import TYPE_CHECKING, Any

from weighd.domain.errors import OperatorError
from weighd.reports.printable import printables
from weighd.reports.sheet_data import Checked, sheet_data
from weighd.reports.sheet_shapes import SHAPES

if TYPE_CHECKING:
    import typst

#: Level A: tagged, so that it can be read aloud; and what it takes for that in PDF/UA.
STANDARDS = ["a-2a", "ua-1"]
TEMPLATE = "sheet.typ"


def sheet_pdf(document: Mapping[str, Any], checked: Checked) -> bytes:
    """The sheet of a record. Raises :class:`OperatorError`, ``cannot-typeset``."""
    return _set(document, checked, "pdf")[0]


def sheet_png(document: Mapping[str, Any], checked: Checked, ppi: float = 144) -> list[bytes]:
    """Its pages as pictures, to look at. Raises as :func:`sheet_pdf` does."""
    return _set(document, checked, "png", ppi)


def _set(
    document: Mapping[str, Any], checked: Checked, form: str, ppi: float | None = None
) -> list[bytes]:
    import typst

    data = sheet_data(document, checked)
    compiler = typst.Compiler(
        font_paths=typst.Fonts(include_system_fonts=False), ignore_system_fonts=True
    )
    try:
        return _compiled(compiler, _inputs(data), form, ppi)
    except typst.TypstError:
        pass  # some text cannot be set as it is: with all but ASCII as numbers it can
    except BaseException as error:
        if type(error).__name__ != "PanicException":  # of typst's own; it has no other name
            raise
    try:
        return _compiled(compiler, _inputs(data, plain=True), form, ppi)
    except typst.TypstError as error:
        raise OperatorError(
            "cannot-typeset",
            f"The sheet cannot be set: {error.message}.",
            where=str(data["batch"]),
            remedy="Export the record as JSON or CSV; they hold all of it.",
        ) from error


def _compiled(
    compiler: typst.Compiler, inputs: dict[str, str], form: str, ppi: float | None
) -> list[bytes]:
    template = (files("weighd.reports") / TEMPLATE).read_bytes()
    made = compiler.compile(
        input=template,
        format="png" if form == "png" else "pdf",
        ppi=ppi,
        sys_inputs=inputs,
        pdf_standards=[] if form == "png" else STANDARDS,  # type: ignore[arg-type]
    )
    return [one for one in (made if isinstance(made, list) else [made]) if one is not None]


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
