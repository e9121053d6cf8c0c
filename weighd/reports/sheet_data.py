"""What stands on a record sheet, as data: texts and lists that a template sets out.

The record is read leniently, so that one that does not hold can be shown for what it is; whether it
holds is handed in.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from weighd.domain.batch import Kind, Status
from weighd.domain.check_record import CHECKED
from weighd.domain.errors import RecordError
from weighd.domain.metrology import Verdict
from weighd.domain.signing import short
from weighd.reports.sheet_process import steps_of, yield_of
from weighd.reports.sheet_stands import (
    Words,
    corrections,
    ended,
    joined,
    stands,
    timed,
    times_in_doubt,
    who,
)
from weighd.reports.sheet_words import (
    between,
    clock,
    grams,
    kilograms,
    moment,
    said,
    signed,
    unsure,
)
from weighd.reports.told import Body, Record, count, inside, rows, rule_text, text, texts


@dataclass(frozen=True, slots=True)
class Checked:
    """What a verification said: ``trouble`` where the record does not hold.

    ``signed``   by which keys, in hex; ``doubts``  what checks of scales say of its weighings.
    ``unread``   decoders that are not here, whose readings were taken as recorded.
    """

    trouble: RecordError | None = None
    signed: Sequence[str] = ()
    doubts: Sequence[Mapping[str, Any]] = ()
    unread: Sequence[str] = ()
    weighings: int = 0
    entries: int = 0


#: Kinds that a sheet tells of elsewhere, and that are nothing out of the ordinary.
_ORDINARY = frozenset(
    (
        *(Kind.OPENED, Kind.TARED, Kind.ACCEPTED, Kind.LOT_NAMED, Kind.WEIGHED, Kind.CLOSED),
        *(Kind.STEP_BEGUN, Kind.VALUE_ENTERED, Kind.VALUE_STRUCK, Kind.STEP_ENDED),
        *(Kind.STEP_DECIDED, Kind.STEP_NOTED, Kind.YIELD, Kind.COUNTERSIGNED),
        Kind.CORRECTED,
    )
)
#: Digits of the last hash that stand on every page.
_MARK = 16
#: Letters of the formula's name that do.
_HEAD = 60
_STATUS = {
    Status.OPEN: "still being weighed",
    Status.IN_PROCESS: "weighed, still in process",
    Status.CLOSED: "closed",
    Status.ABANDONED: "abandoned",
}
_SHAPES: Mapping[str, str] = {
    Verdict.ON_TARGET: "good",
    Verdict.SHORT: "short",
    Verdict.OVER: "over",
    Verdict.TOO_CLOSE: "close",
}


def sheet_data(document: Mapping[str, Any], checked: Checked) -> dict[str, Any]:
    """Everything on the sheet of a record, as JSON values."""
    record = Record(document)
    first, formula = record.opening, inside(record.opening, "formula")
    content, day = inside(formula, "content"), record.opened[:10]
    last = record.last
    return {
        "batch": record.batch,
        "name": text(formula, "name", "id") or "(formula not known)",
        "short": _shortened(text(formula, "name", "id")),
        "status": _STATUS[record.status],
        "whole": record.status is Status.CLOSED,
        "date": _date(record),
        "trouble": _trouble(checked.trouble),
        "facts": _facts(record, first, formula),
        "allergens": _allergens(record),
        "cautions": _cautions(record, content),
        "scenario": text(content, "scenario"),
        "day": day,
        "weighings": _weighings(record, checked, day),
        "missing": _missing(record),
        "sums": _sums(record),
        "steps": steps_of(record, day),
        "yield": yield_of(record),
        "events": _events(record, day),
        "corrections": corrections(record, _names(record), day),
        "doubts": _doubts(checked.doubts, record),
        "hash": _grouped(text(last, "hash")),
        "mark": text(last, "hash")[:_MARK],
        "entries": str(len(record.entries)),
        "seq": str(count(last, "seq") or ""),
        "keys": [short(one) for one in checked.signed],
        "held_by": _held_by(checked),
        "countersigned": _countersigned(record),
        "qr": f"weighd {record.batch} sha256:{text(last, 'hash')}",
    }


def _date(record: Record) -> list[int]:
    """The day of the newest entry: the sheet is as old as its record, whenever it is made."""
    try:
        day = date.fromisoformat(text(record.last, "at")[:10])
    except ValueError:
        day = date(1970, 1, 1)
    return [day.year, day.month, day.day]


def _shortened(name: str) -> str:
    """A name as it fits into one line at the head of a page."""
    return name if len(name) <= _HEAD else f"{name[: _HEAD - 1]}\u2026"


def _grouped(hash_: str) -> str:
    """A hash in groups that an eye can compare."""
    return " ".join(hash_[n : n + 8] for n in range(0, len(hash_), 8))


def _trouble(error: RecordError | None) -> dict[str, str] | None:
    if error is None:
        return None
    return {"what": error.message, "where": error.where, "code": error.code}


def _facts(record: Record, first: Body, formula: Body) -> list[list[Words]]:
    opened = record.of(Kind.OPENED)[:1]
    maker: Words = text(first, "operator")
    if opened:
        maker = stands(record, opened[0], "operator", text(first, "operator"))
    wanted: dict[str, Words] = {
        "Batch": record.batch,
        "Size": kilograms(text(first, "batch_g")),
        "Made by": maker,
        "Opened": timed(opened[0] if opened else {}, moment(record.opened)),
        _ended_word(record): ended(record),
        "Station": record.station,
        "Formula": text(formula, "id"),
        "Revision": text(formula, "revision"),
        "Decision rule": rule_text(first.get("rule")),
    }
    return [[name, value] for name, value in wanted.items() if value]


def _ended_word(record: Record) -> str:
    return "Abandoned" if record.status is Status.ABANDONED else "Closed"


def _planned(record: Record) -> list[Body]:
    """All weighings that were planned, those put right after what was accepted before."""
    planned = rows(record.opening, "additions")
    done = 0
    for entry in record.entries:
        if entry.get("kind") == Kind.ACCEPTED:
            done += 1
        elif entry.get("kind") == Kind.PUT_RIGHT:
            planned = [*planned[:done], *rows(inside(entry, "body"), "additions")]
    return planned


def _allergens(record: Record) -> str:
    found = {one for it in _planned(record) for one in texts(it, "allergens")}
    for entry in record.of(Kind.PUT_RIGHT):
        body = inside(entry, "body")
        for it in (inside(body, "was"), *rows(body, "others")):
            found |= set(texts(it, "allergens"))
    return ", ".join(sorted(found))


def _cautions(record: Record, content: Body) -> list[str]:
    """Those of the formula, of its ingredients and of its steps, each once."""
    told = list(texts(content, "cautions"))
    told += [
        f"{text(one, 'name')}: {text(one, 'caution')}"
        for one in _planned(record)
        if text(one, "caution")
    ]
    told += [
        f"{text(step, 'name')}, {text(one, 'name')}: {text(one, 'text')}"
        for step in rows(content, "steps")
        for one in rows(step, "cautions")
    ]
    return list(dict.fromkeys(one for one in told if one))


def _weighings(record: Record, checked: Checked, day: str) -> list[dict[str, Any]]:
    planned = {count(one, "n"): one for one in _planned(record)}
    doubted = {one.get("addition") for one in checked.doubts}
    out = []
    for entry in record.of(Kind.ACCEPTED):
        body = inside(entry, "body")
        n = count(body, "addition")
        verdict = text(body, "verdict")
        out.append(
            {
                "n": str(n or ""),
                "name": text(body, "name", "ingredient"),
                "part": _part(planned.get(n, {})),
                "target": text(body, "target_g"),
                "band": between(
                    text(body, "low_g"), text(body, "high_g"), text(body, "interval_g")
                ),
                "net": text(body, "net_g"),
                "off": signed(text(body, "deviation_g")),
                "u": unsure(text(body, "u_g")),
                "verdict": verdict or "no verdict",
                "shape": _SHAPES.get(Verdict(verdict), "none")
                if verdict in set(Verdict)
                else "none",
                "odd": verdict != Verdict.ON_TARGET or n in doubted,
                "details": _details(record, entry, day),
                "reason": stands(record, entry, "reason", text(body, "reason")),
            }
        )
    return out


def _part(planned: Body) -> str:
    """What a weighing is of its amount, where it is not all of it."""
    step = inside(planned, "step")
    role = text(step, "role")
    if role in ("", "whole"):
        return ""
    part, parts = count(step, "part"), count(step, "parts")
    return f"part {part} of {parts}" if role == "part" else role


def _details(record: Record, entry: Body, day: str) -> list[Words]:
    body = inside(entry, "body")
    check = inside(body, "check")
    last = inside(check, "last")
    scale = f"scale {text(body, 'scale')} (interval {grams(text(body, 'interval_g'))}"
    if check:
        at = moment(text(last, "at"))
        scale += f"; check: {text(check, 'standing')}"
        scale += f", last {at}, {text(last, 'outcome')}" if at else ""
    return [
        _lots(record, entry),
        scale + ")",
        text(body, "method"),
        timed(entry, clock(text(body, "accepted"), day)),
        who(record, entry) or "operator not named",
    ]


def _lots(record: Record, entry: Body) -> Words:
    """The lot it was taken from, or each with its share where one ran out."""
    body = inside(entry, "body")
    shares = rows(body, "lots")
    parts: list[Words] = []
    for n, one in enumerate(shares, start=1):
        of = f"lot {n}" if len(shares) > 1 else "lot"
        parts += [", " if parts else "lots ", stands(record, entry, of, text(one, "lot"))]
        parts.append(f" {grams(text(one, 'g'))}")
    if shares:
        return joined(*parts)
    lot = stands(record, entry, "lot", text(body, "lot"))
    return joined("lot ", lot) if lot else "lot not named"


def _missing(record: Record) -> list[list[str]]:
    """What was planned and not weighed: number, name, target."""
    done = {count(inside(one, "body"), "addition") for one in record.of(Kind.ACCEPTED)}
    return [
        [str(count(one, "n") or ""), text(one, "name", "ingredient"), text(one, "target_g")]
        for one in _planned(record)
        if count(one, "n") not in done
    ]


def _sums(record: Record) -> list[list[str]]:
    """What went in of each ingredient, where some took several weighings."""
    for entry in record.of(Kind.WEIGHED, Kind.CLOSED):
        found = rows(inside(entry, "body"), "as_weighed")
        if found:
            return [
                [
                    str(count(one, "addition") or ""),
                    text(one, "name", "ingredient"),
                    text(one, "target_g"),
                    text(one, "net_g"),
                    unsure(text(one, "u_g")),
                ]
                for one in found
            ]
    return []


def _events(record: Record, day: str) -> list[dict[str, Words]]:
    """Everything out of the ordinary, and every entry of a kind that is not known here."""
    names, out = _names(record), times_in_doubt(record)
    for entry in record.entries:
        kind, body = text(entry, "kind"), inside(entry, "body")
        if kind in _ORDINARY and not _odd(kind, body):
            continue
        about = count(body, "addition")
        out.append(
            {
                "at": timed(entry, clock(text(entry, "at"), day)),
                "what": said(kind, body),
                "about": f"{about}. {names.get(about, '')}" if about is not None else "",
                "reason": stands(record, entry, "reason", text(body, "reason")),
                "by": who(record, entry),
            }
        )
    return out


def _countersigned(record: Record) -> list[str]:
    """Who signed besides, as far as which entry, and how much of the record came later."""
    own = [one for one in record.entries if one.get("kind") != Kind.COUNTERSIGNED]
    out = []
    for entry in record.of(Kind.COUNTERSIGNED):
        body = inside(entry, "body")
        upto = count(inside(body, "of"), "n") or 0
        later = sum((count(inside(one, "body"), "n") or 0) > upto for one in own)
        told = f"{text(body, 'by')}, {moment(text(entry, 'at'))}, as far as entry {upto}"
        note = text(body, "note")
        told += f" ({note})" if note else ""
        if later:
            told += (
                f"; what came later is not covered: {later} {'entry' if later == 1 else 'entries'}"
            )
        out.append(told)
    return out


def _names(record: Record) -> Mapping[int | None, str]:
    """Names of the weighings by their numbers."""
    return {count(one, "n"): text(one, "name") for one in _planned(record)}


def _odd(kind: str, body: Body) -> bool:
    """Whether an entry of an ordinary kind is out of the ordinary."""
    if kind == Kind.CLOSED:
        return body.get("early") is True
    if kind == Kind.LOT_NAMED:
        return "from_g" in body or bool(text(body, "reason"))
    if kind != Kind.TARED:
        return False
    confirmed = body.get("expected_confirmed") is True or body.get("stood_confirmed") is True
    other = inside(body, "vessel").get("fits") is False
    return confirmed or other or bool(text(body, "not_added_g"))


def _doubts(doubts: Iterable[Mapping[str, Any]], record: Record) -> list[str]:
    """What checks say of weighings, where they do not say that all is well."""
    out = []
    for one in doubts:
        failed = inside(one, "failed")
        told = (
            f"Addition {one.get('addition')}: scale {one.get('scale')} stood {one.get('standing')}"
        )
        if failed:
            told += f", and failed its next check on {moment(text(failed, 'at'))}"
        out.append(told + ".")
    checks = {text(inside(one, "body"), "scale"): one for one in record.checks}
    out += [
        f"Scale {scale} was last checked by {text(inside(one, 'body'), 'by')}, "
        f"{moment(text(one, 'at'))}: {text(inside(one, 'body'), 'outcome')}."
        for scale, one in checks.items()
        if one.get("kind") == CHECKED and doubts
    ]
    return out


def _held_by(checked: Checked) -> str:
    if checked.trouble is not None:
        return ""
    told = (
        f"Verified when this sheet was made: the chain of its {checked.entries} entries holds, and "
        f"every verdict follows from its readings ({checked.weighings} weighings)."
    )
    if checked.unread:
        told += f" The readings of {', '.join(checked.unread)} could not be read again here."
    return told
