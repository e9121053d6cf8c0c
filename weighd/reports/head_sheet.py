"""A journal's head on one page: to be printed, signed by hand and put into a folder."""

from __future__ import annotations

import io
import json
from collections.abc import Mapping, Sequence
from typing import Any

from weighd.domain.short_head import short_head
from weighd.domain.signing import Head, short

TEMPLATE = "head.typ"


def head_lines(head: Head, day: str, missed: Sequence[str] = ()) -> list[str]:
    """What is told of a head, a line each; for a mail, a text file, the page."""
    lines = [
        f"Head of the journal of {head.station}, for {day}",
        "",
        f"    {short_head(head.station, head.entries, head.root)}",
        "",
        f"{head.entries} entries; made {head.at} (UTC).",
        f"Root {head.root}",
        f"Signed by key {short(head.key)}: {head.key}",
        f"Signature {head.value}",
    ]
    if missed:
        lines += ["", missed_words(missed)]
    return [
        *lines,
        "",
        f'Whether the journal still holds it: weighd head --check "{_digits(head)}"',
    ]


def missed_words(missed: Sequence[str]) -> str:
    """That no head was made on some days, and what that means."""
    days = ", ".join(missed)
    return (
        f"No head was made for {days}: the station was not running then, or could not write it. "
        "This one stands for those days too."
    )


def head_pdf(head: Head, day: str, missed: Sequence[str] = ()) -> bytes:
    """The page, as PDF/A. Raises :class:`OperatorError`, ``cannot-typeset``."""
    from weighd.reports.sheet import press

    told: Mapping[str, Any] = {
        "station": head.station,
        "day": day,
        "short": str(short_head(head.station, head.entries, head.root)),
        "entries": str(head.entries),
        "at": head.at,
        "date": [int(one) for one in head.at[:10].split("-")],
        "root": head.root,
        "key": head.key,
        "mark": short(head.key),
        "value": head.value,
        "missed": missed_words(missed) if missed else "",
        "check": f'weighd head --check "{_digits(head)}"',
    }
    asked = {
        "template": TEMPLATE,
        "inputs": {"head": json.dumps(told), "qr": _qr(head)},
        "form": "pdf",
        "ppi": None,
    }
    return press(asked, f"the head of {day}")[0]


def _digits(head: Head) -> str:
    return str(short_head(head.station, head.entries, head.root))


def _qr(head: Head) -> str:
    """The whole head, signature and all, as a QR code (ISO/IEC 18004): paper is enough."""
    import segno

    out = io.BytesIO()
    text = json.dumps(head.as_json(), ensure_ascii=False, separators=(",", ":"))
    segno.make_qr(text.encode("utf-8"), error="m").save(
        out, kind="svg", border=2, xmldecl=False, svgns=True, nl=False
    )
    return out.getvalue().decode("utf-8")
