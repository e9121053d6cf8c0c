"""The as-weighed record: entries, their canonical bytes, and the chain that binds them.

1. An entry is never changed. A correction is a new entry that names the old one.
2. The bytes that are hashed are RFC 8785 canonical JSON of ``seq, station, kind, at, body, prev``;
   ``hash`` is their SHA-256 in hex; ``prev`` is the hash of the station's entry before.
3. The entries of one batch are bound a second time among themselves (``body.n`` counts them,
   ``body.after`` is the hash of the one before), so that a batch can be shown and verified
   without the rest of the journal.
4. Masses in a body are decimal strings in grams. The only JSON numbers are counts and session
   times in seconds.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from weighd.domain.canonical_json import canonical_text, text

#: What ``prev`` of the very first entry holds, and ``after`` of a batch's first.
NOTHING_BEFORE = "0" * 64

#: Whole numbers from here on are not exact in a double, and no JSON to RFC 8785.
MOST = 2**53

#: A body: JSON values only, masses as strings.
Body = Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Tail:
    """Where the chain ends: the newest entry's number and hash."""

    seq: int = 0
    hash: str = NOTHING_BEFORE


@dataclass(frozen=True, slots=True)
class Entry:
    """One entry of the journal. ``at`` is wall time (RFC 3339, ``Z``); ``seq`` gives the order.

    ``sealed``  the canonical JSON of the body that was hashed, where :func:`seal` made the entry;
                never of one that was read, or changed.
    """

    seq: int
    station: str
    kind: str
    at: str
    body: Body
    prev: str
    hash: str
    sealed: str | None = field(default=None, init=False, repr=False, compare=False)

    def as_json(self) -> dict[str, Any]:
        """The entry as exports carry it."""
        return {
            "seq": self.seq,
            "station": self.station,
            "kind": self.kind,
            "at": self.at,
            "body": self.body,
            "prev": self.prev,
            "hash": self.hash,
        }


def canonical(value: Any) -> bytes:
    """RFC 8785 canonical JSON. Raises ``ValueError`` for what JSON (or I-JSON) cannot hold."""
    return canonical_text(value).encode("utf-8")


def entry_hash(seq: int, station: str, kind: str, at: str, body: Body, prev: str) -> str:
    """SHA-256, in hex, of the canonical bytes of an entry without its own hash."""
    return hash_around(canonical_text(dict(body)), seq, station, kind, at, prev)


def hash_around(body: str, seq: int, station: str, kind: str, at: str, prev: str) -> str:
    """The hash of an entry from the canonical JSON of its body, which is taken as it stands.

    The names are in the order of RFC 8785. Raises ``ValueError`` for what JSON cannot hold.
    """
    return hashlib.sha256(bytes_around(body, seq, station, kind, at, prev)).hexdigest()


def bytes_around(body: str, seq: int, station: str, kind: str, at: str, prev: str) -> bytes:
    """The bytes that are hashed; given and raised as by :func:`hash_around`."""
    number = str(seq) if type(seq) is int and seq < MOST else canonical_text([seq])[1:-1]
    return (
        f'{{"at":{text(at)},"body":{body},"kind":{text(kind)},"prev":{text(prev)},'
        f'"seq":{number},"station":{text(station)}}}'
    ).encode()


def seal(station: str, kind: str, at: str, body: Body, tail: Tail) -> Entry:
    """The entry that comes after ``tail``."""
    seq, written = tail.seq + 1, canonical_text(dict(body))
    made = hash_around(written, seq, station, kind, at, tail.hash)
    entry = Entry(seq, station, kind, at, body, tail.hash, made)
    object.__setattr__(entry, "sealed", written)
    return entry
