"""Batches that were put away: what stays of their entries, and that nothing else may be missing.

1. An entry is hashed whole, so evidence cannot be cut out of it. Of a batch that is put away every
   entry goes into an archive as it is, and a *stub* stands in its place: same number, same hash,
   same link, kind ``away``. The chain, the Merkle tree and every head stay as they were.
2. A stub keeps what stock, traces and lists are made of (``kept``), and the archive's name.
3. ``put away`` is an entry of no batch: the archive with its SHA-256, who and why, and of each
   batch a digest of its stubs. So stubs are as good as entries against tampering, and an entry
   that was emptied without one is missed.
4. With the archive each stub is held to the entry it stands for, and everything is verified as if
   nothing had gone.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from weighd.domain.errors import RecordError
from weighd.domain.following import does_not_follow
from weighd.domain.kinds import ENDS, Kind
from weighd.domain.record import Body, Entry, canonical

AWAY = "away"
PUT_AWAY = "put away"
#: What a stub keeps of an entry, by its kind; lists of weighings keep their length.
_KEPT: Mapping[str, tuple[str, ...]] = {
    Kind.OPENED: ("batch_g", "operator"),
    Kind.ACCEPTED: ("addition", "ingredient", "lot", "lots", "net_g", "u_g"),
    Kind.CORRECTED: ("drew", "old", "new"),
}
_COUNTED = (Kind.OPENED, Kind.PUT_RIGHT)


def is_away(entry: Entry) -> bool:
    """Whether an entry is a stub of one that was put away."""
    return entry.kind == AWAY


def stub_of(entry: Entry, archive: str) -> Entry:
    """What stands in the place of an entry whose batch is in ``archive``."""
    body = entry.body
    kept: dict[str, Any] = {key: body[key] for key in _KEPT.get(entry.kind, ()) if key in body}
    if entry.kind == Kind.OPENED:
        kept["formula"] = {key: body["formula"][key] for key in ("id", "name")}
    if entry.kind in _COUNTED:
        kept["additions"] = list(range(1, len(body["additions"]) + 1))
    told = {"batch": body["batch"], "n": body["n"], "was": str(entry.kind), "archive": archive}
    # A command that is sent again is known by its key; times after it are held against its own.
    told |= {key: body[key] for key in ("key", "clock") if key in body}
    return replace(entry, kind=AWAY, body={**told, "kept": kept})


def as_was(entry: Entry) -> Entry:
    """A stub as an entry of its former kind, with what was kept of it; any other as it is."""
    if not is_away(entry):
        return entry
    body = entry.body
    kept = {**body["kept"], "batch": body["batch"], "n": body["n"]}
    return replace(entry, kind=str(body["was"]), body=kept)


def digest_of(stubs: Iterable[Entry]) -> str:
    """SHA-256, in hex, over the stubs of a batch, oldest first."""
    digest = hashlib.sha256()
    for one in stubs:
        _add(digest, one)
    return digest.hexdigest()


def _add(digest: Any, stub: Entry) -> None:
    told = {"seq": stub.seq, "at": stub.at, "hash": stub.hash, "body": dict(stub.body)}
    digest.update(canonical(told) + b"\n")


def put_away(
    archive: str, sha256: str, batches: Mapping[str, str], by: str, reason: str, version: str
) -> Body:
    """The body of the entry that puts batches away; ``batches`` with the digests of their stubs."""
    return {
        "archive": archive,
        "sha256": sha256,
        "batches": dict(batches),
        "by": by,
        "reason": reason,
        "weighd": version,
    }


def refuse_away(entries: Sequence[Entry]) -> None:
    """Raises :class:`RecordError` ``put-away`` where a batch's entries are stubs."""
    if entries and is_away(entries[0]):
        body = entries[0].body
        raise RecordError(
            "put-away",
            f"Batch {body.get('batch')} was put away in {body.get('archive')}.",
            where=f"entry {entries[0].seq}",
            remedy=f"It is there: weighd export {body.get('batch')} --archive FILE.",
        )


@dataclass(slots=True)
class _Gone:
    """The stubs of one batch so far."""

    digest: Any = field(default_factory=hashlib.sha256)
    n: int = 0
    seq: int = 0
    archive: str = ""
    over: bool = False


class AwayVerifier:
    """Takes stubs, and the entries that put batches away, in the order of a whole journal."""

    def __init__(self) -> None:
        self._gone: dict[str, _Gone] = {}
        self._told = set[str]()
        #: The archives that were named, with their hashes.
        self.archives: dict[str, str] = {}

    def __contains__(self, batch: object) -> bool:
        return batch in self._gone or batch in self._told

    @property
    def batches(self) -> int:
        """How many batches are away."""
        return len(self._told)

    def stub(self, entry: Entry, *, known: bool) -> Entry:
        """One more stub, as it was; ``known``: its batch has entries here. Raises
        :class:`RecordError`."""
        body = entry.body
        name, was = str(body["batch"]), Kind(body["was"])
        one = self._gone.setdefault(name, _Gone())
        first = was is Kind.OPENED
        if known or name in self._told or body["n"] != one.n + 1 or first != (one.n == 0):
            raise RecordError(
                "batch-chain-broken",
                f"It is not the stub that follows number {one.n} of batch {name}.",
                where=f"entry {entry.seq}",
            )
        _add(one.digest, entry)
        one.n, one.seq, one.archive = body["n"], entry.seq, str(body["archive"])
        one.over = one.over or was in ENDS
        return as_was(entry)

    def is_over(self, batch: str) -> bool:
        """Whether a batch was over with the newest stub of it."""
        return batch in self._told or (batch in self._gone and self._gone[batch].over)

    def put_away(self, entry: Entry, here: Iterable[str]) -> None:
        """An entry that puts batches away; ``here``: batches that are there whole, since they were
        put back from their archive to be verified."""
        body, whole = entry.body, set(here)
        for text in ("by", "reason", "archive"):
            if not str(body[text]).strip():
                raise does_not_follow(entry, f"{text} is empty.")
        for name, digest in body["batches"].items():
            if name in whole and name not in self._gone:
                continue
            one = self._gone.pop(name, None)
            if one is None or not one.over or one.archive != body["archive"]:
                raise does_not_follow(entry, f"Batch {name} was not put away there.")
            if one.digest.hexdigest() != digest:
                raise does_not_follow(
                    entry, f"What stands for batch {name} is not what stood there: it was changed."
                )
            self._told.add(name)
        self.archives[str(body["archive"])] = str(body["sha256"])

    def finish(self) -> None:
        """Raises :class:`RecordError` ``entry-emptied`` for stubs that nothing tells of."""
        for name, one in self._gone.items():
            raise RecordError(
                "entry-emptied",
                f"The entries of batch {name} are not there, and no entry says that they were put "
                "away.",
                where=f"entry {one.seq}",
            )
