"""Recorded sessions: the inputs of a station as JSON lines, in the order they were taken.

The first line is a header; each other line is one input with its ``t`` in seconds::

    {"session": 1, "scales": {"bench": {"driver": "serial", "max_g": "6000", ...}}, "note": "...",
     "learned": {"bench": {"interval_g": "0.1", "since": "...", "values": {...}}}}
    {"t": 0, "clock": "2026-11-25T18:00:00.000Z"}
    {"t": 0.125, "scale": "bench", "rx": "53542c..."}
    {"t": 1.5, "scale": "bench", "event": "lost", "why": "..."}
    {"t": 2.0, "command": {"do": "tare", "key": "...", "addition": 1}}
    {"t": 0, "recalled": [{"seq": 1, "kind": "batch opened", ...}, ...]}
    {"t": 0, "down": {"at": "...", "entries": [...], "sums": [...]}}
    {"t": 9, "put_away": {"archive": "...", "batches": {...}, ...}}
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, fields
from typing import Any

from weighd.domain.check_standing import Past, past_of_json
from weighd.domain.clock_said import Wall
from weighd.domain.errors import RecordError, SessionError
from weighd.domain.lot_json import drawn_as_json, drawn_of, lot_as_json, lot_of
from weighd.domain.lot_uses import Drawn
from weighd.domain.lots import Lot
from weighd.domain.moments import read_moment
from weighd.domain.record import NOTHING_BEFORE
from weighd.domain.verify import entry_of
from weighd.station.inputs import (
    CameDown,
    ClockSet,
    Command,
    Heard,
    Input,
    LinkFound,
    LinkLost,
    PutAway,
    Recalled,
    Tick,
)
from weighd.station.known import Known, known_of
from weighd.station.sharing import Shared, shared_of
from weighd.station.vessel_shelf import Kept, kept_of

FORMAT = 1
#: A longer line is no input of a scale or a person.
LONGEST_LINE = 1_000_000
#: The first one has every lot that was there.
LONGEST_HEADER = 100_000_000

#: What a value of another kind than ours raises; of numbers too, for one that no float can be.
_NOT_AS_WRITTEN = (ArithmeticError, AttributeError, KeyError, TypeError, ValueError)

#: No recording is longer, seconds: ten years.
LONGEST_S = 315_360_000.0

_COMMAND = {one.name: one.default for one in fields(Command) if one.name != "t"}
#: The kinds that the fields of a command may be of; those of texts in a list are seen to apart.
_KINDS: Mapping[str, tuple[type, ...]] = {
    **{
        name: (int, type(None)) if default is None else (type(default),)
        for name, default in _COMMAND.items()
    },
    "do": (str,),
    "old": (str, type(None)),
    "formula": (dict, str, type(None)),
    **dict.fromkeys(("change", "draw", "goods", "dry_ice"), (dict, type(None))),
}


@dataclass(frozen=True, slots=True)
class Header:
    """The first line of a session.

    ``scales``     a name to ``driver``, ``max_g``, ``interval_g`` and the driver's own settings.
    ``rule``       the decision rule, ``name`` and ``k``; the station's own where it is empty.
    ``learned``    what was known of each scale at the start (:class:`~weighd.station.known.Known`).
    ``past``       how the checks of its scales stood at the start.
    ``vessels``    the vessels whose mass was known at the start, and ``lots``, those received.
    ``wall``       how the times in the journal stood then.
    ``shared``     what was known of other stations, where it shares with some.
    ``strangers``  where it does not: what was drawn from codes that no lot has.
    ``seq, hash``  where the journal ended, and ``made``, how many batches it held, so that a
                   replay gives the very entries that were made.
    """

    scales: Mapping[str, Mapping[str, Any]]
    note: str = ""
    station: str = "station"
    rule: Mapping[str, str] = field(default_factory=dict)
    version: str = ""
    seq: int = 0
    hash: str = NOTHING_BEFORE
    made: int = 0
    learned: Mapping[str, Known] = field(default_factory=dict)
    past: Mapping[str, Past] = field(default_factory=dict)
    vessels: tuple[Kept, ...] = ()
    lots: tuple[Lot, ...] = ()
    shared: Shared | None = None
    wall: Wall = field(default_factory=Wall)
    strangers: Mapping[str, Drawn] = field(default_factory=dict)

    def as_json(self) -> dict[str, Any]:
        """The header as JSON values."""
        known = {name: one.as_json() for name, one in self.learned.items()}
        past = {name: one.as_json() for name, one in self.past.items()}
        strangers = {code: drawn_as_json(one) for code, one in self.strangers.items()}
        return {
            "session": FORMAT,
            "station": self.station,
            "weighd": self.version,
            "rule": dict(self.rule),
            "journal": {
                "seq": self.seq,
                "hash": self.hash,
                "made": self.made,
                **({"newest": self.wall.newest} if self.wall.newest else {}),
                **({"ahead": self.wall.ahead} if self.wall.ahead else {}),
            },
            "scales": {name: dict(one) for name, one in self.scales.items()},
            **({"learned": known} if known else {}),
            **({"checks": past} if past else {}),
            **({"vessels": [one.as_json() for one in self.vessels]} if self.vessels else {}),
            **({"lots": [lot_as_json(one) for one in self.lots]} if self.lots else {}),
            **({"shared": self.shared.as_json()} if self.shared else {}),
            **({"strangers": strangers} if strangers and not self.shared else {}),
            "note": self.note,
        }


def header_line(header: Header) -> str:
    """The header as a line, without its end."""
    return json.dumps(header.as_json(), ensure_ascii=False, separators=(", ", ": "))


def line(event: Input) -> str | None:
    """One input as a line, without its end; ``None`` for a tick, which a replay does without."""
    out: dict[str, Any] = {"t": round(event.t, 6)}
    match event:
        case Heard():
            out |= {"scale": event.scale, "rx": event.data.hex()}
        case LinkLost():
            out |= {"scale": event.scale, "event": "lost", "why": event.why}
        case LinkFound():
            out |= {"scale": event.scale, "event": "found", "what": event.what}
            if event.facts:
                out["facts"] = dict(event.facts)
        case ClockSet():
            out["clock"] = event.utc
        case Command():
            given = {name: getattr(event, name) for name in _COMMAND}
            out["command"] = {k: v for k, v in given.items() if k == "do" or v != _COMMAND[k]}
        case Recalled():
            out["recalled"] = list(event.entries)
        case CameDown():
            out["down"] = {
                "at": event.at,
                "entries": list(event.entries),
                "sums": list(event.sums),
            }
        case PutAway():
            out["put_away"] = dict(event.body)
        case Tick():
            return None
    return json.dumps(out, ensure_ascii=False, separators=(", ", ": "))


def read(lines: Iterable[str], file: str = "session") -> tuple[Header, Iterator[Input]]:
    """The header and, lazily, the inputs of a session.

    Raises :class:`SessionError` naming the line, at once for the header and when it is reached
    for any other line.
    """
    numbered = ((n, text) for n, text in enumerate(lines, start=1) if text.strip())
    first = next(numbered, None)
    if first is None:
        raise SessionError("empty-session", "The session is empty.", where=file)
    header = _header(_object(first[1], file, first[0], LONGEST_HEADER), file)
    return header, _inputs(numbered, header, file)


def _inputs(numbered: Iterator[tuple[int, str]], header: Header, file: str) -> Iterator[Input]:
    last = 0.0
    for number, text in numbered:
        row = _object(text, file, number)
        try:
            event = _input(row, header)
        except (*_NOT_AS_WRITTEN, RecordError) as error:
            raise _bad(file, number, f"this is not an input ({error})") from error
        if event.t < last:
            raise _bad(file, number, f"time goes back, from {last} to {event.t}")
        last = event.t
        yield event


def _input(row: Mapping[str, Any], header: Header) -> Input:
    t = row["t"]
    if isinstance(t, bool) or not isinstance(t, int | float) or not 0 <= t <= LONGEST_S:
        raise ValueError("t must be seconds from the start")
    t = float(t)
    if "clock" in row:
        return ClockSet(t, read_moment(row["clock"]))
    if "command" in row:
        return _command(t, row["command"])
    if "recalled" in row:
        return Recalled(
            t, tuple(entry_of(one, n).as_json() for n, one in enumerate(row["recalled"]))
        )
    if "down" in row:
        down = dict(row["down"])
        rows = [tuple(dict(one) for one in down.get(key, ())) for key in ("entries", "sums")]
        at = read_moment(down["at"])
        return CameDown(t, at, rows[0], rows[1])
    if "put_away" in row:
        return PutAway(t, dict(row["put_away"]))
    scale = row["scale"]
    if scale not in header.scales:
        raise ValueError(f"no scale {scale!r} in the header")
    if "rx" in row:
        return Heard(t, scale, bytes.fromhex(row["rx"]))
    if row["event"] == "lost":
        return LinkLost(t, scale, str(row.get("why", "")))
    if row["event"] == "found":
        return LinkFound(t, scale, str(row.get("what", "")), dict(row.get("facts", {})))
    raise ValueError(f"no event {row['event']!r}")


def _command(t: float, given: Mapping[str, Any]) -> Command:
    unknown = set(given) - set(_COMMAND)
    if unknown:
        raise ValueError(f"a command has no {', '.join(sorted(unknown))}")
    if "confirmed" in given:
        given = {**given, "confirmed": tuple(str(one) for one in given["confirmed"])}
    if "proved" in given:
        given = {**given, "proved": tuple(str(one) for one in given["proved"])}
    if given.get("dry_ice") is not None:
        told = {str(key): str(one) for key, one in given["dry_ice"].items()}
        given = {**given, "dry_ice": told}
    for name, value in given.items():
        if not isinstance(value, _KINDS[name]) or (type(value) is bool) is not (
            bool in _KINDS[name]
        ):
            raise ValueError(f"{name} of a command is of another kind")
    return Command(t, **given)


def _header(row: Mapping[str, Any], file: str) -> Header:
    if row.get("session") != FORMAT:
        raise SessionError(
            "not-a-session",
            f'The first line must say {{"session": {FORMAT}, ...}}.',
            where=f"{file}, line 1",
        )
    scales = row.get("scales")
    if not isinstance(scales, dict) or not all(
        isinstance(one, dict) and isinstance(one.get("driver"), str) for one in scales.values()
    ):
        raise _bad(file, 1, '"scales" must name each scale and its driver')
    journal = row.get("journal", {})
    try:
        return Header(
            scales,
            str(row.get("note", "")),
            str(row.get("station", "station")),
            dict(row.get("rule") or {}),
            str(row.get("weighd", "")),
            int(journal.get("seq", 0)),
            str(journal.get("hash", NOTHING_BEFORE)),
            int(journal.get("made", 0)),
            _learned(row.get("learned") or {}),
            {name: past_of_json(one) for name, one in (row.get("checks") or {}).items()},
            tuple(kept_of(one) for one in row.get("vessels") or ()),
            tuple(lot_of(one) for one in row.get("lots") or ()),
            shared_of(row["shared"]) if row.get("shared") else None,
            Wall(*(_moment_or_none(journal.get(key, "")) for key in ("newest", "ahead"))),
            {str(code): drawn_of(one) for code, one in (row.get("strangers") or {}).items()},
        )
    except _NOT_AS_WRITTEN as error:
        raise _bad(file, 1, f"the header cannot be read ({error})") from error


def _moment_or_none(text: str) -> str:
    return read_moment(text) if text else ""


def _learned(rows: Mapping[str, Any]) -> dict[str, Known]:
    out = {}
    for name, row in rows.items():
        known = known_of(row)
        if known is None:
            raise ValueError(f"what was known of the scale {name}")
        out[name] = known
    return out


def _object(text: str, file: str, number: int, longest: int = LONGEST_LINE) -> dict[str, Any]:
    if len(text) > longest:
        raise _bad(file, number, f"the line is longer than {longest} characters")
    try:
        row = json.loads(text)
    except (ValueError, RecursionError) as error:
        raise _bad(file, number, f"this is not JSON ({error})") from error
    if not isinstance(row, dict):
        raise _bad(file, number, "this is not a JSON object")
    if "\\ud" in text.lower():  # it may be half of a pair, which no record can hold
        try:
            json.dumps(row, ensure_ascii=False).encode("utf-8")
        except UnicodeEncodeError as error:
            raise _bad(file, number, "it holds half a character") from error
    return row


def _bad(file: str, number: int, message: str) -> SessionError:
    return SessionError("bad-session-line", f"{message}.", where=f"{file}, line {number}")
