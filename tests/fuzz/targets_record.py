"""Readers of what another program wrote: sessions, records, archives, revisions, floor, sync."""

from __future__ import annotations

import gzip
import json
import tempfile
from collections.abc import Mapping
from contextlib import suppress
from functools import cache
from pathlib import Path
from typing import Any

from tests.domain.forging import sealed_anew
from tests.fuzz.target import LONGEST, Target, file_text, of_json
from tests.fuzz.targets_text import formulas
from weighd.domain.canonical_json import canonical_text
from weighd.domain.errors import FormulaError, OperatorError, RecordError, SessionError, WeighdError
from weighd.domain.formula_kept import Found, Kept, kept_of
from weighd.domain.lot_fold import take
from weighd.domain.lot_json import lot_as_json, lot_of
from weighd.domain.lot_record import TOLD
from weighd.domain.lot_shared import sum_of
from weighd.domain.lots import Lot, LotBook
from weighd.domain.record import Entry, Tail, seal
from weighd.domain.signing import read_head, read_proof, read_signature
from weighd.domain.verify import entry_of, read_export, verify_export
from weighd.main.drivers import reread, session_decoder
from weighd.main.files import formula_content
from weighd.station.floor import Floor
from weighd.station.floor_schema import schema
from weighd.station.floor_topics import SECTIONS, TOP, level
from weighd.station.inputs import CameDown
from weighd.station.known import known_of
from weighd.station.lots_drawn import draw_lots
from weighd.station.replay import replay
from weighd.station.runner import run_through
from weighd.station.session import header_line, line, read
from weighd.station.sharing import Shared, shared_of
from weighd.station.station import Station
from weighd.storage.archive_file import read_archive
from weighd.storage.keys import made
from weighd.storage.revision_bundle import unbundle
from weighd_drivers.shape_text import as_json, from_json, shipped

_ROOT = Path(__file__).resolve().parents[2]
_FIXTURES = _ROOT / "fixtures"
#: What canonical JSON may say of a value that JSON cannot hold.
NO_JSON = (ValueError, RecursionError)


def _session(data: bytes) -> None:
    """A recording is read to its end, written as it was, and replayed."""
    text = file_text(data)
    if text is None:
        return
    rows = text.splitlines(keepends=True)
    try:
        header, inputs = read(rows)
        events = list(inputs)
    except SessionError:
        return
    again, inputs = read([header_line(header), *filter(None, map(line, events))])
    assert header_line(again) == header_line(header)
    assert list(map(line, inputs)) == list(map(line, events))
    with suppress(WeighdError):
        replay(header, events, session_decoder, formula_content(Path("s"), None))


def _record(data: bytes) -> None:
    """A record verifies or is refused, with hashes as they are and with hashes made to fit."""
    document = of_json(data)
    with suppress(RecordError):
        verify_export(document, reread, made)
    if isinstance(document, Mapping):
        try:
            rows = [one.as_json() for one in sealed_anew(read_export(document))]
        except (RecordError, *NO_JSON):
            return
        with suppress(RecordError):
            verify_export({**document, "entries": rows, "signatures": []}, reread, made)


def _entry(data: bytes) -> None:
    """The pieces that records, archives and the shared store are made of."""
    row = of_json(data)
    for reader in (read_signature, read_head, read_proof):
        with suppress(RecordError):
            reader(row, "here")
    try:
        entry = entry_of(row, 1)
    except RecordError:
        return
    assert entry_of(entry.as_json(), 1) == entry


def _archive(data: bytes) -> None:
    """The lines of an archive, packed, with an end that fits; or bytes that are none."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "a"
        path.write_bytes(gzip.compress(data[1:], 1) if data[:1] == b"z" else data)
        with suppress(RecordError):
            read_archive(path, made)


def _revisions(data: bytes) -> None:
    text = file_text(data)
    if text is None:
        return
    with tempfile.TemporaryDirectory() as folder, suppress(OperatorError):
        unbundle(text, Path(folder))
    with suppress(KeyError, TypeError, ValueError, FormulaError):
        kept = kept_of(of_json(data))  # type: ignore[arg-type]
        assert kept_of(json.loads(json.dumps(kept.as_json()))) == kept
        kept.read()


def _floor(data: bytes) -> None:
    """A message is counted or ignored, whoever wrote it."""
    floor = Floor()
    floor.connected(0.0, "2026-11-27T10:00:00.000Z")
    topic, _, payload = data.partition(b"\n")
    floor.take(
        topic.decode("utf-8", "replace"),
        payload,
        retained=bool(data[:1] > b"m"),
        now=1.0,
        utc="2026-11-27T10:00:01.000Z",
    )
    floor.tick(2.0, "2026-11-27T10:00:02.000Z")
    json.dumps([floor.cards(), floor.of_link()])
    assert floor.messages == 1


def _synced(data: bytes) -> None:
    """What came down of a shared store: rows of entries, sums, what was known."""
    row = of_json(data)
    for reader in (sum_of, shared_of, kept_of):
        with suppress(KeyError, TypeError, ValueError):
            reader(row)  # type: ignore[operator]
    known_of(row)
    try:
        lot = lot_of(row)  # type: ignore[arg-type]
    except (KeyError, TypeError, ValueError):
        pass
    else:
        assert lot_of(json.loads(json.dumps(lot_as_json(lot)))) == lot
    try:
        entry = entry_of(row, 1)
    except RecordError:
        return
    try:  # what another station wrote, with a hash made to fit
        fitting = seal("bar", entry.kind, entry.at, entry.body, Tail(entry.seq % 99, "ab" * 32))
    except NO_JSON:
        return
    station = Station("here", [], lots=LotBook([_lot()]), shared=Shared())
    rows = tuple(one.as_json() for one in (entry, fitting))
    journal: list[Entry] = []
    run_through(station.handle(CameDown(1.0, "2026-11-27T10:00:00.000Z", rows, ())), journal.extend)
    draw_lots(station.stock.book, "2026-11-28", gone=True)
    assert all(take(LotBook([_lot()]), one) is not None for one in journal[:1])


def _lot() -> Lot:
    return lot_of(json.loads(_rows()[0]))


def _canonical(data: bytes) -> None:
    """RFC 8785: what is written reads back, and is written the same."""
    value = of_json(data)
    try:
        text = canonical_text(value)
    except NO_JSON:
        return
    # A large float is written as the whole number that it is, which only a float holds again.
    again = json.loads(text, parse_int=lambda it: int(it) if abs(int(it)) < 2**53 else float(it))
    assert canonical_text(again) == text


def _spec(data: bytes) -> None:
    """A wire shape as evidence in a record names it."""
    value = of_json(data)
    if isinstance(value, Mapping):
        with suppress(ValueError):
            from_json(value)
        with suppress(KeyError, ValueError):
            reread(value)


# --- inputs to begin with -------------------------------------------------------------------------


def _sessions() -> list[bytes]:
    """The beginnings and middles of recordings; whole ones take too long to be damaged at will."""
    out = []
    for path in sorted((_FIXTURES / "sessions").glob("*.jsonl")):
        rows = path.read_bytes().splitlines(keepends=True)
        told = [one for one in rows if b'"rx"' not in one]
        heard = [one for one in rows if b'"rx"' in one]
        out.append(b"".join([*told, *heard[-5:]]) if len(rows) < 3 else b"".join(told[:20]))
        out.append(b"".join(rows[:30]))
    return [one for one in out if len(one) <= LONGEST]


@cache
def _records() -> list[bytes]:
    files = sorted((_FIXTURES / "sessions").glob("*.golden.json"))
    return [one.read_bytes() for one in (*files, *sorted((_FIXTURES / "records").glob("*.json")))]


def _entries() -> list[bytes]:
    out = [json.dumps(row) for one in _records() for row in json.loads(one)["entries"][:3]]
    hexes = {"key": "ab" * 32, "value": "cd" * 64}
    head = {"weighd_head": 1, "station": "s", "root": "ef" * 32, "at": "x", "entries": 3, **hexes}
    out += [json.dumps(head), json.dumps({"head": head, "seq": 2, "path": ["ab" * 32]})]
    out.append(json.dumps({"entries": 3, "head": "ab" * 32, **hexes}))
    return [one.encode() for one in out if len(one) <= LONGEST]


def _archives() -> list[bytes]:
    texts = dict.fromkeys(("station", "at", "before", "by", "reason"), "x")
    rows: list[Any] = [{"weighd_archive": 1, **texts}]
    rows += [{"entry": json.loads(one)} for one in _entries()[:2]]
    rows += [{"check": json.loads(_entries()[0])}]
    rows += [{"batch": "b", "signature": json.loads(_entries()[-1])}]
    rows += [{"end": {"sha256": "ab" * 32, "key": "ab" * 32, "value": "cd" * 64}}]
    text = b"z" + b"".join(json.dumps(one).encode() + b"\n" for one in rows)
    return [text, gzip.compress(text[1:], 1, mtime=0)]


def _kept() -> list[bytes]:
    out = []
    for name, one in formulas().items():
        kept = Kept(name, one.revision, one.content(), Found.PAGE, "A", "2026-11-27T10:00:00Z")
        out.append(json.dumps(kept.as_json(), ensure_ascii=False).encode())
    return [one for one in out if len(one) <= LONGEST]


def _messages() -> list[bytes]:
    out = [f"{TOP}/1/kitchen/{section}\n{{}}".encode() for section in SECTIONS]
    for section in SECTIONS:
        told = json.dumps(_sample({"$ref": section}, schema()["$defs"][section]))
        out.append(f"{TOP}/1/{level('x')}/{section}\n{told}".encode())
    return out


def _sample(_: object, wanted: Mapping[str, Any]) -> Any:
    """A value that a schema of the floor takes."""
    if "anyOf" in wanted:
        return _sample(_, wanted["anyOf"][1])
    if "const" in wanted or "enum" in wanted:
        return wanted.get("const", wanted.get("enum", [None])[0])
    match wanted["type"]:
        case "object":
            return {name: _sample(_, one) for name, one in wanted["properties"].items()}
        case "array":
            return [_sample(_, wanted["items"])]
        case "string":
            return "x" if "pattern" not in wanted else "2026-11-27T10:00:00.000Z"
        case "boolean":
            return True
    return max(1, wanted.get("minimum", 0))


def _rows() -> list[bytes]:
    drawn = {"g": "12.5", "u2": "0.01", "uses": 2}
    goods = {"ingredient": "cream", "name": "Cream", "quantity_g": "1000", "use_by": "2026-12-01"}
    lot = {"lot": "C-1", "goods": goods, "received": "2026-11-27T10:00:00.000Z", "by": "A"}
    lot |= {"seq": 3, "hash": "ab" * 32, "opened": "", "keeps_days": 3, "blocked": "", "uses": 1}
    lot |= {"used_up": "", "used_g": "5", "used_u2": "0.1", "count_g": None}
    lot |= {"adjusted": [["ab", "-3", True]], "blocks": [["a", "b", "c"]], "stood": ["", ""]}
    lot |= {"elsewhere": {"bar": drawn}, "overdrawn_g": "1", "lifted": ["x"], "replaced": []}
    one = {"station": "bar", "lot": "C-1", **drawn, "origin": "kitchen", "code": "C-1"}
    shared = {"marks": {"bar": 3}, "strangers": {"C-9": drawn}, "sums": [one], "at": "x"}
    known = {"interval_g": "0.1", "since": "", "values": {"noise_g": 0.1}}
    body = {**goods, "lot": "C-1", "by": "A", "received": "2026-11-27"}
    entry = seal("bar", "lot received", "2026-11-27T10:00:00.000Z", body, Tail()).as_json()
    at, done = "2026-11-27T11:00:00.000Z", {"lot": "C-1", "by": "A", "reason": "x", "at": "x"}
    done |= {"count_g": "3", "waste_g": "1"}
    more = [seal("bar", kind, at, done, Tail()).as_json() for kind in TOLD[1:]]
    told = (lot, one, shared, known, drawn, goods, entry, *more)
    return [json.dumps(row).encode() for row in told]


def _specs() -> list[bytes]:
    out = [json.dumps(as_json(one)) for one in shipped().values()]
    for row in json.loads(_records()[0])["entries"]:
        for scale in row["body"].get("scales", {}).values():
            out.append(json.dumps(scale))
    out += ['{"driver": "serial", "shape": "auto"}', '{"driver": "usb", "report": "0a", "at": 0}']
    return [one.encode() for one in out]


TARGETS: dict[str, Target] = {
    "session": Target(_session, _sessions, "records"),
    "record": Target(_record, _records, "records", json=True),
    "entry": Target(_entry, _entries, "records", json=True),
    "archive": Target(_archive, _archives, "records"),
    "revisions": Target(_revisions, _kept, "records", json=True),
    "floor": Target(_floor, _messages, "shared"),
    "synced": Target(_synced, _rows, "shared", json=True),
    "canonical": Target(_canonical, _rows, "shared", json=True),
    "spec": Target(_spec, _specs, "shared", json=True),
}
