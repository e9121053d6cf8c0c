"""An archive: batches that were put away, whole, in one file that verifies by itself.

It is gzip over lines of JSON: a head line that says what it is, every entry in the order of the
journal, the checks of scales that they rest on, the signatures, and a last line with the SHA-256 of
all bytes before it and the station's signature under that. Nothing in it is ever changed.
"""

from __future__ import annotations

import gzip
import hashlib
import json
import os
import zlib
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from weighd.domain.errors import JournalError, RecordError
from weighd.domain.record import Entry, canonical
from weighd.domain.signing import Check, Signature, Signer, read_signature, short
from weighd.domain.verify import entry_of
from weighd.storage.faults import of_system
from weighd.storage.syncing import sync

FORMAT = 1
#: No line of an archive is longer: an entry of a long weighing has some hundred kB.
LONGEST = 64 * 1024 * 1024


@dataclass(frozen=True, slots=True)
class Archive:
    """What an archive holds; ``about`` is its head line."""

    about: Mapping[str, Any]
    entries: Mapping[str, Sequence[Entry]]
    checks: Mapping[str, Entry] = field(default_factory=dict)
    signatures: Mapping[str, Sequence[Signature]] = field(default_factory=dict)
    key: str = ""

    @property
    def station(self) -> str:
        """Whose it is."""
        return str(self.about["station"])

    def by_number(self) -> dict[int, Entry]:
        """Every entry by its number in the journal."""
        return {one.seq: one for each in self.entries.values() for one in each}


def write_archive(
    path: Path,
    signer: Signer,
    about: Mapping[str, Any],
    entries: Iterable[Entry],
    checks: Iterable[Entry],
    signatures: Iterable[tuple[str, Signature]],
) -> None:
    """Write an archive, and see that it is on the disk. Raises :class:`JournalError`:
    ``file-exists``, and where it cannot be written; then there is none."""
    part = path.with_name(path.name + ".part")
    if path.exists():
        raise JournalError(
            "file-exists", "It is there already.", where=str(path), remedy="Name another file."
        )
    digest = hashlib.sha256()
    try:
        with part.open("wb") as raw, gzip.GzipFile("", "wb", fileobj=raw, mtime=0) as out:
            for line in _lines(about, entries, checks, signatures):
                digest.update(line)
                out.write(line)
            value = signer.sign(_statement(digest.hexdigest(), signer.key))
            end = {"sha256": digest.hexdigest(), "key": signer.key, "value": value}
            out.write(_line({"end": end}))
        with part.open("rb") as stream:
            os.fsync(stream.fileno())
        part.rename(path)
        sync(path.parent)
    except OSError as error:
        part.unlink(missing_ok=True)
        path.unlink(missing_ok=True)  # its name may not be on the disk
        raise of_system(error, path) from error


def read_archive(path: Path, check: Check) -> Archive:
    """What is in an archive, once its signature was seen to hold.

    Raises :class:`RecordError`: ``not-an-archive``, ``cut-short``, ``hash-mismatch``,
    ``bad-signature``, ``unreadable-entry``.
    """
    digest, about, end = hashlib.sha256(), None, None
    entries: dict[str, list[Entry]] = {}
    checks: dict[str, Entry] = {}
    signatures: dict[str, list[Signature]] = {}
    for n, line in enumerate(_read(path), start=1):
        where = f"{path.name}, line {n}"
        row = _json(line, where)
        if end is not None:
            raise RecordError("hash-mismatch", "Something comes after its end.", where=where)
        if "end" in row:
            end = row["end"]
            continue
        digest.update(line)
        if n == 1:
            about = _about(row, path)
        elif "entry" in row:
            entry = entry_of(row["entry"], n)
            entries.setdefault(str(entry.body.get("batch")), []).append(entry)
        elif "check" in row:
            entry = entry_of(row["check"], n)
            checks[entry.hash] = entry
        elif "signature" in row:
            one = read_signature(row["signature"], where)
            signatures.setdefault(str(row.get("batch")), []).append(one)
        else:
            raise RecordError("unreadable-entry", "It is nothing of an archive.", where=where)
    if about is None or end is None:
        raise RecordError("cut-short", "The archive has no end: it is cut short.", where=str(path))
    _check_end(end, digest.hexdigest(), check, path)
    return Archive(about, entries, checks, signatures, str(end["key"]))


def _check_end(end: Any, found: str, check: Check, path: Path) -> None:
    try:
        said, key, value = end["sha256"], str(end["key"]), bytes.fromhex(end["value"])
        raw = bytes.fromhex(key)
    except (KeyError, TypeError, ValueError) as error:
        raise RecordError(
            "unreadable-signature", "Its end is no signature.", where=str(path)
        ) from error
    if said != found:
        raise RecordError(
            "hash-mismatch",
            "What is in the archive does not give the hash at its end: it was changed.",
            where=str(path),
        )
    if not check(raw, value, _statement(found, key)):
        raise RecordError(
            "bad-signature", f"Key {short(key)} did not sign this archive.", where=str(path)
        )


def _lines(
    about: Mapping[str, Any],
    entries: Iterable[Entry],
    checks: Iterable[Entry],
    signatures: Iterable[tuple[str, Signature]],
) -> Iterator[bytes]:
    yield _line({"weighd_archive": FORMAT, **about})
    for one in entries:
        yield _line({"entry": one.as_json()})
    for one in checks:
        yield _line({"check": one.as_json()})
    for batch, signed in signatures:
        yield _line({"batch": batch, "signature": signed.as_json()})


def _statement(digest: str, key: str) -> bytes:
    return canonical({"weighd_signature": FORMAT, "of": "archive", "sha256": digest, "key": key})


def _line(value: Any) -> bytes:
    return json.dumps(value, ensure_ascii=False, separators=(",", ":")).encode() + b"\n"


def _read(path: Path) -> Iterator[bytes]:
    try:
        with gzip.open(path, "rb") as stream:
            while line := stream.readline(LONGEST):
                yield line
    except EOFError as error:
        raise RecordError("cut-short", "The archive is cut short.", where=str(path)) from error
    except (gzip.BadGzipFile, zlib.error) as error:
        raise RecordError(
            "not-an-archive", f"This is no archive, or it was damaged ({error}).", where=str(path)
        ) from error
    except OSError as error:
        raise RecordError(
            "unreadable-file", f"It cannot be read: {error.strerror or error}.", where=str(path)
        ) from error


def _json(line: bytes, where: str) -> dict[str, Any]:
    try:
        row = json.loads(line)
    except (ValueError, RecursionError) as error:
        raise RecordError("unreadable-entry", f"It is not JSON ({error}).", where=where) from error
    if not isinstance(row, dict):
        raise RecordError("unreadable-entry", "It is not an object.", where=where)
    return row


def _about(row: dict[str, Any], path: Path) -> dict[str, Any]:
    texts = ("station", "at", "before", "by", "reason")
    if row.get("weighd_archive") != FORMAT or not all(isinstance(row.get(it), str) for it in texts):
        raise RecordError(
            "not-an-archive", "This is no archive that weighd wrote.", where=str(path)
        )
    return row
