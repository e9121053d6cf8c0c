"""Signatures: that a record is a station's own, and how far it went when it was signed.

1. A *signature* says of one batch: so many entries, the last of them with this hash. Each entry
   holds the hash of the one before it in its batch, so it covers them all.
2. A *head* says of a station's whole journal: so many entries, and this Merkle root over their
   hashes (``merkle``). Kept elsewhere, on paper or in a mail, it makes later rewriting visible;
   with a *proof* it shows that a batch belongs to the journal, without showing the others.
3. What is signed are the bytes of RFC 8785 canonical JSON of the statement, with Ed25519
   (RFC 8032). Keys are 32 bytes, signatures 64, both in hex. A key signs nothing by being named:
   whose it is, is known by having it from elsewhere.

Keys and their use are for an edge: here a :data:`Check` is handed in.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Protocol

from weighd.domain import merkle
from weighd.domain.errors import RecordError
from weighd.domain.record import Entry, canonical

FORMAT = 1
_HEX = frozenset("0123456789abcdef")
#: Public key, signature and statement in: whether the one made the other of the third.
Check = Callable[[bytes, bytes, bytes], bool]


class Signer(Protocol):
    """Whoever has the station's key."""

    @property
    def key(self) -> str:
        """The public key, in hex."""

    def sign(self, statement: bytes) -> str:
        """The signature of a statement, in hex."""


@dataclass(frozen=True, slots=True)
class Signature:
    """``key`` signed that the first ``entries`` entries of a batch end with the hash ``head``."""

    key: str
    entries: int
    head: str
    value: str

    def as_json(self) -> dict[str, Any]:
        return {
            "key": self.key,
            "entries": self.entries,
            "head": self.head,
            "value": self.value,
        }


@dataclass(frozen=True, slots=True)
class Head:
    """``key`` signed at ``at`` that a station's first ``entries`` entries have this ``root``."""

    station: str
    entries: int
    root: str
    at: str
    key: str
    value: str

    def as_json(self) -> dict[str, Any]:
        return {
            "weighd_head": FORMAT,
            "station": self.station,
            "entries": self.entries,
            "root": self.root,
            "at": self.at,
            "key": self.key,
            "value": self.value,
        }


@dataclass(frozen=True, slots=True)
class Proof:
    """That entry number ``seq`` of the journal is under ``head``: the way there, lowest first."""

    head: Head
    seq: int
    path: tuple[str, ...]

    def as_json(self) -> dict[str, Any]:
        return {"head": self.head.as_json(), "seq": self.seq, "path": list(self.path)}


def statement_of_batch(station: str, batch: str, entries: int, head: str, key: str) -> bytes:
    """What is signed of a batch."""
    return canonical(
        {
            "weighd_signature": FORMAT,
            "of": "batch",
            "station": station,
            "batch": batch,
            "entries": entries,
            "head": head,
            "key": key,
        }
    )


def statement_of_journal(station: str, entries: int, root: str, at: str, key: str) -> bytes:
    """What is signed of a journal."""
    return canonical(
        {
            "weighd_signature": FORMAT,
            "of": "journal",
            "station": station,
            "entries": entries,
            "root": root,
            "at": at,
            "key": key,
        }
    )


def signed(signer: Signer, entry: Entry) -> Signature:
    """A batch as far as ``entry``, its newest, signed."""
    batch, entries = entry.body["batch"], entry.body["n"]
    told = statement_of_batch(entry.station, batch, entries, entry.hash, signer.key)
    return Signature(signer.key, entries, entry.hash, signer.sign(told))


def signed_head(signer: Signer, station: str, entries: int, root: str, at: str) -> Head:
    """A journal's head, signed."""
    told = statement_of_journal(station, entries, root, at, signer.key)
    return Head(station, entries, root, at, signer.key, signer.sign(told))


def check_signature(one: Signature, station: str, batch: str, check: Check, where: str) -> None:
    """Raises :class:`RecordError` ``bad-signature`` where the key did not sign this."""
    told = statement_of_batch(station, batch, one.entries, one.head, one.key)
    if not _made(one.key, one.value, told, check):
        raise RecordError(
            "bad-signature",
            f"Key {short(one.key)} did not sign this: the signature, or what it is of, was "
            "changed.",
            where=where,
        )


def check_end(one: Signature, batch: str, n: int, head: str, where: str) -> None:
    """Raises :class:`RecordError` ``sealed-anew`` where a batch does not end, with its entry ``n``
    of the hash ``head``, as it was signed to."""
    if (one.entries, one.head) != (n, head):
        raise RecordError(
            "sealed-anew",
            f"Key {short(one.key)} signed batch {batch} as ending with another entry "
            f"{one.entries} than this: it was changed, and its hashes made to fit.",
            where=where,
        )


def nothing_trusted() -> RecordError:
    """The error that a record has no signature of a key that is trusted."""
    return RecordError(
        "not-signed",
        "Nothing here is signed by a key that is trusted.",
        remedy="A batch is signed when it is over.",
    )


def check_head(head: Head, check: Check) -> None:
    """Raises :class:`RecordError` ``bad-signature`` where the key did not sign this head."""
    told = statement_of_journal(head.station, head.entries, head.root, head.at, head.key)
    if not _made(head.key, head.value, told, check):
        raise RecordError(
            "bad-signature",
            f"Key {short(head.key)} did not sign this head: it was changed.",
            where=f"head of {head.entries} entries",
        )


def prove(hashes: Sequence[str], seq: int, head: Head) -> Proof:
    """That entry ``seq`` is under a head, from the hashes of that head's entries."""
    leaves = [merkle.leaf(bytes.fromhex(one)) for one in hashes]
    path = merkle.inclusion(leaves, seq - 1)
    return Proof(head, seq, tuple(one.hex() for one in path))


def check_proof(proof: Proof, entry: Entry, check: Check) -> None:
    """Raises :class:`RecordError` where a proof does not show that ``entry`` is under its head."""
    check_head(proof.head, check)
    at = merkle.leaf(bytes.fromhex(entry.hash))
    path, head = [bytes.fromhex(one) for one in proof.path], proof.head
    shown = merkle.includes(bytes.fromhex(head.root), head.entries, proof.seq - 1, at, path)
    if not shown or (proof.seq, head.station) != (entry.seq, entry.station):
        raise RecordError(
            "not-in-journal",
            f"The proof does not show that it is one of the {head.entries} entries that station "
            f'"{head.station}" signed.',
            where=f"entry {entry.seq}",
        )


class HeadCheck:
    """Holds a head that was kept elsewhere against the entries of a journal, oldest first."""

    def __init__(self, head: Head) -> None:
        self._head = head
        self._tree = merkle.Growing()

    def take(self, entry: Entry) -> None:
        """One more entry. Raises :class:`RecordError` where the head is of other entries."""
        self.link(entry.seq, entry.station, entry.hash)

    def link(self, seq: int, station: str, hash_: str) -> None:
        """The same, by no more of the entry than is under a head."""
        if self._tree.size >= self._head.entries:
            return
        if station != self._head.station:
            raise RecordError(
                "other-station",
                f'The head is of station "{self._head.station}".',
                where=f"entry {seq}",
            )
        self._tree.add(bytes.fromhex(hash_))
        if self._tree.size == self._head.entries and self._tree.root.hex() != self._head.root:
            raise RecordError(
                "rewritten",
                f"The first {self._head.entries} entries are not those of the head that was kept "
                f"on {self._head.at}: the journal was written anew since.",
                where=f"entry {seq}",
            )

    def finish(self) -> None:
        """Raises :class:`RecordError` ``cut-short`` where the journal ends before the head does."""
        if self._tree.size < self._head.entries:
            raise RecordError(
                "cut-short",
                f"The head that was kept on {self._head.at} is of {self._head.entries} entries; "
                f"here are {self._tree.size}: the end is missing.",
                where=f"entry {self._tree.size + 1}",
            )


def root_of(entries: Iterable[str]) -> tuple[int, str]:
    """How many hashes of entries there are, and the Merkle root over them."""
    tree = merkle.Growing()
    for one in entries:
        tree.add(bytes.fromhex(one))
    return tree.size, tree.root.hex()


def short(key: str) -> str:
    """The beginning of a key, to tell it from others by eye: like ``3f9a-12c0-77de-0b41``."""
    return "-".join(key[n : n + 4] for n in range(0, 16, 4))


def read_signature(row: Any, where: str) -> Signature:
    """A signature out of an export or a table. Raises :class:`RecordError`."""
    with_hex = {"key": 64, "head": 64, "value": 128}
    _shape(row, {**dict.fromkeys(with_hex, str), "entries": int}, where)
    _counts(row, "entries", where)
    for name, length in with_hex.items():
        _hex(row[name], length, name, where)
    return Signature(row["key"], row["entries"], row["head"], row["value"])


def read_head(row: Any, where: str) -> Head:
    """A head out of a file. Raises :class:`RecordError`."""
    if not isinstance(row, Mapping) or row.get("weighd_head") != FORMAT:
        raise RecordError(
            "not-a-head", f'This is not a head: "weighd_head": {FORMAT} is missing.', where=where
        )
    texts = dict.fromkeys(("station", "root", "at", "key", "value"), str)
    _shape(row, {**texts, "entries": int, "weighd_head": int}, where)
    _counts(row, "entries", where)
    for name, length in (("root", 64), ("key", 64), ("value", 128)):
        _hex(row[name], length, name, where)
    names = ("station", "entries", "root", "at", "key", "value")
    return Head(**{name: row[name] for name in names})


def read_proof(row: Any, where: str) -> Proof:
    """A proof out of an export. Raises :class:`RecordError`."""
    _shape(row, {"head": dict, "seq": int, "path": list}, where)
    _counts(row, "seq", where)
    for one in row["path"]:
        _hex(one, 64, "path", where)
    return Proof(read_head(row["head"], where), row["seq"], tuple(row["path"]))


def _made(key: str, value: str, told: bytes, check: Check) -> bool:
    return check(bytes.fromhex(key), bytes.fromhex(value), told)


def _shape(row: Any, fields: Mapping[str, type], where: str) -> None:
    if not isinstance(row, Mapping) or set(row) != set(fields):
        raise RecordError(
            "unreadable-signature", f"It has not the fields {', '.join(fields)}.", where=where
        )
    for name, kind in fields.items():
        if not isinstance(row[name], kind) or isinstance(row[name], bool):
            raise RecordError(
                "unreadable-signature", f"{name} is not of the right kind.", where=where
            )


def _counts(row: Mapping[str, Any], name: str, where: str) -> None:
    if row[name] < 1:
        raise RecordError("unreadable-signature", f"{name} is below 1.", where=where)


def _hex(value: Any, length: int, name: str, where: str) -> None:
    digits = isinstance(value, str) and set(value) <= _HEX
    if not digits or len(value) != length:
        raise RecordError(
            "unreadable-signature", f"{name} is not {length} hexadecimal digits.", where=where
        )
