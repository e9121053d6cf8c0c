"""Templates of ours set by typst from its wheel, and QR codes to stand on them.

1. A template is a file of ours and what it shows is data beside it (``sys.inputs``): nothing that
   somebody typed is ever read as markup.
2. Fonts are those in typst's wheel, and nothing is fetched: the same data give the same bytes.
3. What cannot be set as it is, is set once more with all but ASCII as numbers (``printable``).
4. It is set in a process of its own (``press``), which ends with it.
"""

from __future__ import annotations

import io
import json
import subprocess
import sys
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from weighd.domain.errors import OperatorError

#: A sheet takes a fifth of a second; one of a thousand weighings a few seconds.
PATIENCE_S = 60.0
#: What a template panics with where its page is too small.
_TOO_SMALL = "does not fit"


class NotSetError(Exception):
    """It could not be set, and why."""


class TooSmallError(NotSetError):
    """The page is too small for what is to stand on it."""


@dataclass(frozen=True, slots=True)
class Template:
    """``file``: its name among these; ``what`` it makes and ``remedy``, for the error."""

    file: str
    what: str
    remedy: str

    def pages(
        self,
        inputs: Callable[[bool], Mapping[str, str]],
        where: str,
        form: str = "pdf",
        ppi: float | None = None,
    ) -> list[bytes]:
        """The whole as PDF/A, or its pages as pictures (``form`` png).

        ``inputs``  makes the data; it is given whether texts are to be plain.
        ``where``   what it was to be of, for the error.
        Raises :class:`OperatorError`, ``cannot-typeset``, and :class:`TooSmallError`.
        """
        for plain in (False, True):
            try:
                return _pressed(
                    {"template": self.file, "inputs": inputs(plain), "form": form, "ppi": ppi}
                )
            except TooSmallError:
                raise
            except NotSetError as error:
                why = error
        raise OperatorError(
            "cannot-typeset",
            f"{self.what} cannot be set: {why}.",
            where=where,
            remedy=self.remedy,
        ) from why


def _pressed(asked: Mapping[str, Any]) -> list[bytes]:
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
        why = told[-1][:300] or f"it ended with {done.returncode}"
        raise (TooSmallError if _TOO_SMALL in why else NotSetError)(why)
    lengths, pages = done.stdout.split(b"\n", 1)
    out = []
    for length in json.loads(lengths):
        out.append(pages[:length])
        pages = pages[length:]
    return out


def qr_svg(text: str | bytes, border: int = 2) -> tuple[str, int]:
    """A QR code (ISO/IEC 18004, error correction level M or better) as SVG, and how many modules
    it is wide with its quiet zone of ``border``."""
    import segno

    out = io.BytesIO()
    code = segno.make_qr(text, error="m")
    code.save(out, kind="svg", border=border, xmldecl=False, svgns=True, nl=False)
    return out.getvalue().decode("utf-8"), int(code.symbol_size(border=border)[0])


def qr_path(text: str) -> tuple[str, int]:
    """The same code as the data of an SVG path, without its quiet zone, and its modules a side."""
    import segno

    rows = segno.make_qr(text, error="m").matrix
    marks = (f"M{n} {m}h1v1h-1z" for m, row in enumerate(rows) for n, on in enumerate(row) if on)
    return "".join(marks), len(rows)
