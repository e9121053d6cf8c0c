"""Lots that other stations received or drew from: what is learned of them, and what is not let by.

1. What another station recorded of a lot is an entry here (``lot shared``) that holds that entry
   whole: its hash shows that it was not changed, and this station's journal alone says what was
   known here and when. It is taken once, in the order of that station.
2. A lot keeps its code everywhere. Where another lot of this station has it already, it is known
   here as ``CODE@STATION``; no code that is given can look like that.
3. What others drew comes as sums with the moment they are of, not as entries: one sum stands for
   any number of weighings. A count that was reckoned with them says so.
4. Where all together drew more than there was, by more than 2 u of what was weighed, every station
   that knows the lot records who drew how much (``lot overdrawn``), and again when it has grown by
   more than that.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Any

from weighd.domain import mass
from weighd.domain.days import day_of, plus_days, read_day
from weighd.domain.errors import OperatorError
from weighd.domain.lot_fold import learned, lot_meant
from weighd.domain.lot_json import drawn_as_json, drawn_of, pairs
from weighd.domain.lot_record import MOST_DAYS, RECEIVED, TOLD
from weighd.domain.lot_uses import Drawn
from weighd.domain.lots import NOTHING, Lot, LotBook
from weighd.domain.moments import read_moment
from weighd.domain.record import Entry, entry_hash

#: Days after which nothing is asked any more of a lot that was used up.
LONG_GONE = 60


@dataclass(frozen=True, slots=True)
class Sum:
    """What a station drew from what it knows as ``lot``.

    ``origin``, ``code``  where that was received and its code there; empty where that station drew
                          from it before anybody told it what it is.
    """

    station: str
    lot: str
    drawn: Drawn
    origin: str = ""
    code: str = ""

    def as_json(self) -> dict[str, Any]:
        """As JSON values."""
        told = {"station": self.station, "lot": self.lot, **drawn_as_json(self.drawn)}
        return told | ({"origin": self.origin, "code": self.code} if self.origin else {})


def sum_of(row: Mapping[str, Any]) -> Sum:
    """The inverse of :meth:`Sum.as_json`. Raises ``KeyError``, ``TypeError`` or ``ValueError``."""
    row = dict(pairs(row))
    origin, code = str(row.get("origin", "")), str(row.get("code", ""))
    return Sum(str(row["station"]), str(row["lot"]), drawn_of(row), origin, code)


def shared_body(book: LotBook, own: str, entry: Entry) -> dict[str, Any]:
    """The body of ``lot shared`` for an entry of another station.

    ``own``  the name of this one. Raises :class:`OperatorError`: ``not-shared`` for what is no such
    entry or does not hold, ``unknown-lot`` where the lot is not known here (yet).
    """
    where = f"entry {entry.seq} of station {entry.station}"
    try:
        if why := _why_not(entry, own):
            raise _not_shared(entry, why)
        if code := _local(book, own, entry):
            _held(learned(book, own, entry, code, 0), entry)
            return {"lot": code, "entry": entry.as_json()}
    except (KeyError, TypeError, ValueError, RecursionError) as error:
        raise _not_shared(entry, str(error)) from error
    raise OperatorError("unknown-lot", "It is of a lot that is not known here yet.", where=where)


def _held(lot: Lot, entry: Entry) -> None:
    """That its days are days: every page shows them. Raises ``ValueError``."""
    read_moment(entry.at)
    for day in (lot.goods.use_by, lot.goods.best_before):
        if day:
            read_day(day)
    if lot.keeps_days is not None and not 0 <= lot.keeps_days <= MOST_DAYS:
        raise ValueError("it says of no number of days how long it keeps")


def _why_not(entry: Entry, own: str) -> str:
    if entry.kind not in TOLD or entry.station == own or "batch" in entry.body:
        return "it is nothing that another station did to a lot"
    computed = entry_hash(entry.seq, entry.station, entry.kind, entry.at, entry.body, entry.prev)
    if computed != entry.hash:
        return "its content does not give the hash it carries"
    return ""


def _not_shared(entry: Entry, why: str) -> OperatorError:
    return OperatorError(
        "not-shared",
        f"What station {entry.station} recorded is not taken: {why}.",
        where=f"entry {entry.seq} of station {entry.station}",
        remedy="Verify what the shared store holds of that station.",
    )


def _local(book: LotBook, own: str, entry: Entry) -> str:
    """The code of its lot here; empty for one that is not known."""
    if entry.kind == RECEIVED and "corrects" not in entry.body:
        code = str(entry.body["lot"])
        return code if book.get(code) is None else f"{code}@{entry.station}"
    lot = lot_meant(book, own, entry)
    return "" if lot is None else lot.code


def is_long_gone(lot: Lot, at: str) -> bool:
    """Whether it was used up so long before ``at`` that what others drew is not asked any more."""
    return bool(lot.used_up) and lot.used_up <= plus_days(day_of(at), -LONG_GONE)


def spread(book: LotBook, own: str, sums: Iterable[Sum], at: str = "") -> list[Lot]:
    """Let the book know what other stations drew, in the place of what it knew; the lots that it
    changed.

    ``at``  when that was asked for: what is not told of a lot that was long gone by then stands as
            it was. Of any other, what is told no more was drawn from another lot, as it turned out.
            Empty where nothing was known before.
    """
    found: dict[str, dict[str, Drawn]] = {}
    for one in sums:
        for lot in () if one.station == own else _meant(book, own, one):
            by = found.setdefault(lot.code, {})
            by[one.station] = by.get(one.station, Drawn()).plus(one.drawn)
    changed = []
    for lot in list(book):
        before = dict(lot.elsewhere) if at and is_long_gone(lot, at) else {}
        now = tuple(sorted((before | found.get(lot.code, {})).items()))
        if now != lot.elsewhere:
            lot = replace(lot, elsewhere=now)
            book.put(lot)
            changed.append(lot)
    return changed


def _meant(book: LotBook, own: str, one: Sum) -> list[Lot]:
    """The lots that a station may have drawn from: several only where it did so before it was told
    which of those with that code it has. Then each counts it, so that none is overdrawn unseen."""
    if one.origin:
        lot = book.received_at("" if one.origin == own else one.origin, one.code)
        return [lot] if lot is not None else []
    return [lot for lot in book if one.lot in (lot.code, lot.there)]


def is_overdrawn(lot: Lot) -> bool:
    """Whether that is to be recorded (again): beyond 2 u, and beyond what was told before."""
    return (
        bool(lot.elsewhere) and lot.over_g > 0 and lot.over_g - lot.overdrawn_g > 2 * lot.u_used_g
    )


def overdrawn_body(lot: Lot, own: str, at: str) -> dict[str, Any]:
    """The body of ``lot overdrawn``: by how much, and who drew what as it was known at ``at``."""
    drawn = {name: drawn_as_json(one) for name, one in lot.elsewhere}
    if lot.uses:
        drawn[own] = drawn_as_json(lot.drawn)
    body: dict[str, Any] = {"lot": lot.code}
    if lot.station:
        body["of"] = {"station": lot.station, "lot": lot.there}
    return body | {
        "over_g": mass.text(lot.over_g),
        "u_g": mass.text(lot.u_used_g),
        "had_g": mass.text(lot.had_g),
        "drawn": drawn,
        "known_at": at,
    }


def elsewhere_of(body: Mapping[str, Any], own: str) -> tuple[tuple[str, Drawn], ...]:
    """What others drew as an entry keeps it. Raises ``KeyError``, ``TypeError``, ``ValueError``."""
    if "drawn" in body:
        return tuple(
            sorted((name, drawn_of(one)) for name, one in body["drawn"].items() if name != own)
        )
    g = mass.parse(body["elsewhere_g"]) if "elsewhere_g" in body else NOTHING
    return (("", Drawn(g, Decimal(0), 1)),) if g else ()
