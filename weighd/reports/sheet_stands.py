"""What was put right, on a record sheet: the words as they stand, what was recorded first struck
out before them, and the list of all corrections.

A text of the sheet is a string, or a list of strings, of ``{"was": ...}``, which is struck out, and
of ``{"gap": True}``, a space: those at the ends of a string do not get as far as the sheet.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from weighd.domain.batch import Kind
from weighd.reports.sheet_words import clock, moment
from weighd.reports.told import Body, Record, count, inside, text

Piece = str | dict[str, Any]
Words = str | list[Piece]
_GAP: Piece = {"gap": True}
NOTHING = "none"


def stands(record: Record, entry: Body, field: str, first: str, *, none: str = "") -> Words:
    """A field as it stands; ``none``, what to say where nothing is named there."""
    if not record.made_of(entry, field):
        return first or none
    now = record.stands(entry, field, first)
    return [{"was": first or NOTHING}, _GAP, now or none or NOTHING]


def joined(*parts: Words) -> Words:
    """Texts one after the other; a string where nothing is struck out."""
    if all(isinstance(one, str) for one in parts):
        return "".join(map(str, parts))
    out: list[Piece] = []
    for one in parts:
        out += _spaced(one) if isinstance(one, str) else one
    return out


def who(record: Record, entry: Body) -> Words:
    """Who did it, as that stands, and who let them."""
    body = inside(entry, "body")
    name = stands(record, entry, "operator", text(body, "operator", "by"))
    allowed = text(body, "allowed_by")
    return joined(name, f", allowed by {allowed}") if allowed else name


def timed(entry: Body, told: str) -> str:
    """A time of an entry as it is written, with a mark where its clock was in doubt."""
    return f"{told} ?" if told and inside(inside(entry, "body"), "clock") else told


def ended(record: Record) -> str:
    """When the batch was over; empty while it is not."""
    ends = (*record.of(Kind.CLOSED), *record.of(Kind.ABANDONED), {})
    return timed(ends[0], moment(record.ended))


def times_in_doubt(record: Record) -> list[dict[str, Words]]:
    """What the mark means, as a row of what was out of the ordinary; none where none is marked."""
    clocks = (inside(inside(one, "body"), "clock") for one in record.entries)
    if not (found := list(dict.fromkeys(text(one, "is") for one in clocks if one))):
        return []
    what = (
        f"Times marked with ? are by a clock that was in doubt ({', '.join(found)}); the order of "
        "what was done is that of the entries"
    )
    return [{"at": "?", "what": what, "about": "", "reason": "", "by": ""}]


def _spaced(part: str) -> list[Piece]:
    """A string with the spaces at its ends as gaps."""
    inner: list[Piece] = [part.strip()] if part.strip() else []
    ahead = [_GAP] if part[:1] == " " else []
    return [*ahead, *inner, *([_GAP] if inner and part[-1:] == " " else [])]


def corrections(record: Record, names: Mapping[int | None, str], day: str) -> list[dict[str, Any]]:
    """All of them, oldest first: when, of what, what stood and stands, why, who."""
    out = []
    for entry in record.of(Kind.CORRECTED):
        body = inside(entry, "body")
        n = count(inside(body, "of"), "n")
        of, field, although = record.by_n.get(n, {}), text(body, "field"), text(body, "although")
        out.append(
            {
                "at": timed(entry, clock(text(entry, "at"), day)),
                "of": f"{_about(of, n, names)}: {field}",
                "was": text(body, "old") or NOTHING,
                "now": text(body, "new") or NOTHING,
                "although": although.replace("-", " "),
                "reason": text(body, "reason"),
                "by": who(record, entry),
            }
        )
    return out


def _about(entry: Body, n: int | None, names: Mapping[int | None, str]) -> str:
    """What an entry was, for whoever reads the sheet."""
    kind, body = text(entry, "kind"), inside(entry, "body")
    addition, step = count(body, "addition"), count(body, "step")
    if addition is not None:
        told = f"{addition}. {names.get(addition, '')}".rstrip()
        return told if kind == Kind.ACCEPTED else f"{told}, {kind}"
    if step is not None:
        return f"Step {step}, {kind}"
    return f"{kind[:1].upper()}{kind[1:]}" or f"Entry {n}"
