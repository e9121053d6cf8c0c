"""A journal's head on one page: to be printed, signed by hand and put into a folder."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from typing import Any

from weighd.domain.short_head import short_head
from weighd.domain.signing import Head, short
from weighd.reports.typeset import Template, qr_svg

PAGE = Template("head.typ", "The page", "It is there as text and as JSON.")


def head_lines(head: Head, day: str, missed: Sequence[str] = ()) -> list[str]:
    """What is told of a head, a line each; for a mail, a text file, the page."""
    lines = [
        f"Head of the journal of {head.station}, for {day}",
        "",
        f"    {_digits(head)}",
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
    told: Mapping[str, Any] = {
        "station": head.station,
        "day": day,
        "short": _digits(head),
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
    # The code holds the whole head, signature and all: paper is enough.
    whole = json.dumps(head.as_json(), ensure_ascii=False, separators=(",", ":"))
    inputs = {"head": json.dumps(told), "qr": qr_svg(whole.encode("utf-8"))[0]}
    return PAGE.pages(lambda _: inputs, f"the head of {day}")[0]


def _digits(head: Head) -> str:
    return str(short_head(head.station, head.entries, head.root))
