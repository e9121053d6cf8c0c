"""What the book of lots makes of an entry: of this station, or of another one that came down.

Entries of different stations come in any order, and the book is the same in the end: what is added
up does not hang on it, a block stands until an entry that knew of it lifts it, a lot counts as
opened when that was first done, and of two counts the later one says what is there now. Only the
wall time can tell which that is where they are of two stations; of one station, its order does.
"""

from __future__ import annotations

from dataclasses import replace

from weighd.domain import mass
from weighd.domain.kinds import Kind
from weighd.domain.lot_json import drawn_of, goods_of, whole
from weighd.domain.lot_record import OVERDRAWN, RECEIVED, SHARED, is_lot_entry
from weighd.domain.lot_uses import Drawn, moved_in, uses_in
from weighd.domain.lots import NOTHING, Lot, LotBook
from weighd.domain.record import Entry


def take(book: LotBook, entry: Entry) -> list[Lot]:
    """Let the book have one more entry; the lots that it changed. Nothing for what is not of lots.

    Raises ``KeyError``, ``TypeError`` or ``ValueError`` for nonsense.
    """
    drawn = [book.draw(one.lot, one.g, one.u_g) for one in uses_in(entry)]
    if drawn or entry.kind == Kind.ACCEPTED:
        return [one for one in drawn if one is not None]
    if moved := moved_in(entry):
        use = moved.was
        both = (book.give_back(use.lot, use.g, use.u_g), book.draw(moved.lot, use.g, use.u_g))
        return [one for one in both if one is not None]
    if not is_lot_entry(entry):
        return []
    if entry.kind != SHARED:
        lot = _own(book, entry)
    else:
        there, code = inner(entry), str(entry.body["lot"])
        lot = learned(book, entry.station, there, code, entry.seq)
        book.known[there.station] = there.seq
        book.strangers.pop(lot.code, None)
    book.put(lot)
    return [lot]


def inner(entry: Entry) -> Entry:
    """The entry of another station that came down. Raises ``KeyError`` or ``TypeError``."""
    row = entry.body["entry"]
    texts = {key: str(row[key]) for key in ("station", "kind", "at", "prev", "hash")}
    return Entry(seq=int(row["seq"]), body=dict(row["body"]), **texts)


def lot_meant(book: LotBook, own: str, entry: Entry) -> Lot | None:
    """The lot that an entry of another station is of, as it is known here.

    ``own``  the name of this station. Raises ``KeyError`` or ``TypeError``.
    """
    station, code = entry.station, str(entry.body["lot"])
    if "of" in entry.body:
        station, code = str(entry.body["of"]["station"]), str(entry.body["of"]["lot"])
    return book.received_at("" if station == own else station, code)


def _own(book: LotBook, entry: Entry) -> Lot:
    body = entry.body
    if entry.kind == RECEIVED and "corrects" not in body:
        if book.get(body["lot"]) is not None:
            raise ValueError(f"lot {body['lot']} was received before")
        lot = Lot(body["lot"], goods_of(body), entry.at, body["by"], entry.seq, entry.hash)
        before = book.strangers.pop(lot.code, Drawn())
        if "drawn_before" in body:  # as other stations are told
            before = drawn_of(body["drawn_before"])
        return replace(lot, drawn=before)
    was = book.get(body["lot"])
    if was is None:
        raise ValueError(f"lot {body['lot']} was never received")
    if entry.kind == OVERDRAWN:
        return replace(was, overdrawn_g=mass.parse(body["over_g"]))
    return _changed(was, entry)


def learned(book: LotBook, own: str, there: Entry, code: str, seq: int) -> Lot:
    """A lot as an entry of another station leaves it; the book is as it was.

    ``code``, ``seq``  its code here, and the number of the entry here that tells of it.
    Raises ``KeyError``, ``TypeError`` or ``ValueError``.
    """
    if there.seq <= book.known.get(there.station, 0):
        raise ValueError(f"entry {there.seq} of station {there.station} came down before")
    if there.kind == RECEIVED and "corrects" not in there.body:
        return Lot(
            code,
            goods_of(there.body),
            there.at,
            str(there.body["by"]),
            seq,
            there.hash,
            drawn=book.strangers.get(code, Drawn()),
            station=there.station,
            there=str(there.body["lot"]),
        )
    was = lot_meant(book, own, there)
    if was is None or was.code != code:
        raise ValueError(f"lot {code} is not the one that it is of")
    return _changed(was, there)


def _changed(lot: Lot, entry: Entry) -> Lot:
    body = entry.body
    match entry.kind:
        case "lot received":
            if body["corrects"] != lot.hash:
                raise ValueError("it puts right what is not the newest receipt")
            return replace(lot, goods=goods_of(body), hash=entry.hash)
        case "lot opened":
            if lot.opened and lot.opened <= entry.at:
                return lot
            days = body.get("keeps_days")
            return replace(lot, opened=entry.at, keeps_days=None if days is None else whole(days))
        case "lot blocked":
            block = (entry.hash, entry.station, str(body["reason"]))
            return _standing(replace(lot, blocks=(*lot.blocks, block)))
        case "lot released":
            named = body.get("lifts")
            mine = [one for one, station, _ in lot.blocks if station in (entry.station, "")]
            gone = frozenset(map(str, mine if named is None else named))
            return _standing(replace(lot, lifted=lot.lifted | gone))
        case "lot used up":
            # What the books still had is a count of nothing.
            left = mass.parse(body["left_g"])
            made = (*lot.adjusted, (entry.hash, -left, True))
            lot = replace(lot, adjusted=made)
            if not _newest(lot, entry):
                return lot
            return replace(lot, used_up=entry.at, count_g=NOTHING, stood=(entry.at, entry.station))
        case "lot adjusted":
            return _adjusted(lot, entry)
    raise ValueError(f"{entry.kind} is nothing done to a lot")


def _adjusted(lot: Lot, entry: Entry) -> Lot:
    body = entry.body
    counted = "count_g" in body
    gone = lot.replaced | ({str(body["corrects"])} if "corrects" in body else set())
    made = (*lot.adjusted, (entry.hash, mass.parse(body["change_g"]), counted))
    lot = replace(lot, adjusted=tuple(one for one in made if one[0] not in gone), replaced=gone)
    if counted and _newest(lot, entry):
        count = mass.parse(body["count_g"])
        used_up = "" if count else lot.used_up
        lot = replace(lot, count_g=count, used_up=used_up, stood=(entry.at, entry.station))
    return lot


def _newest(lot: Lot, entry: Entry) -> bool:
    """Whether an entry says what is there now, and not what was there before another one did."""
    return lot.stood[1] in ("", entry.station) or (entry.at, entry.station) > lot.stood


def _standing(lot: Lot) -> Lot:
    return replace(lot, blocks=tuple(one for one in lot.blocks if one[0] not in lot.lifted))
