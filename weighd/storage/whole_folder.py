"""A station's whole record as files that need no database: what is in the folder, how it is read.

``journal.jsonl`` has every entry, a line each, oldest first; ``signatures.jsonl`` what was signed
of them. A folder is written beside its place and gets its name when all of it is there.
``contents.json`` has the SHA-256 of each file, and the station's signature under all of that.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from pathlib import Path, PurePosixPath
from typing import Any

from weighd.domain.errors import RecordError
from weighd.domain.record import Entry, canonical
from weighd.domain.signing import Signature, read_signature
from weighd.domain.verify import entry_of
from weighd.storage.copies import digest

FORMAT = 1
CONTENTS, JOURNAL, SIGNATURES, HEAD = (
    "contents.json",
    "journal.jsonl",
    "signatures.jsonl",
    "head.json",
)
BATCHES = "batches"
LARGEST_CONTENTS = 256 * 1024 * 1024


def contents_of(folder: Path, about: Mapping[str, Any]) -> dict[str, Any]:
    """What is in a folder, to be signed: ``about`` the station, and each file with its hash."""
    files = [
        {
            "place": one.relative_to(folder).as_posix(),
            "size": one.stat().st_size,
            "sha256": digest(one),
        }
        for one in sorted(folder.rglob("*"))
        if one.is_file()
    ]
    return {"weighd_folder": FORMAT, **about, "files": files}


def statement_of(contents: Mapping[str, Any]) -> bytes:
    """What is signed of a folder: all that ``contents.json`` has but the signature."""
    told = {key: value for key, value in contents.items() if key != "value"}
    return canonical({"weighd_signature": FORMAT, "of": "folder", "contents": told})


def read_contents(folder: Path) -> dict[str, Any]:
    """What a folder says it holds. Raises :class:`RecordError`, ``not-a-folder``."""
    path = folder / CONTENTS
    try:
        with path.open("rb") as stream:
            row: dict[str, Any] = json.loads(stream.read(LARGEST_CONTENTS))
        good = row["weighd_folder"] == FORMAT and bool(re.fullmatch("[0-9a-f]{64}", row["key"]))
        good = good and bool(re.fullmatch("[0-9a-f]{128}", row["value"]))
        places = [str(one["place"]) for one in row["files"]]
        if not good or not all(map(_inside, places)):
            raise _none(path, "it was made by another version, or changed")
    except (OSError, ValueError, KeyError, TypeError, AttributeError, RecursionError) as error:
        raise _none(path, str(error)) from error
    return row


def check_files(folder: Path, contents: Mapping[str, Any]) -> None:
    """Whether every file is there as it was. Raises :class:`RecordError`: ``file-missing``,
    ``file-changed``, ``file-added``."""
    named = set()
    for one in contents["files"]:
        path = folder / one["place"]
        named.add(path)
        if not path.is_file() or path.is_symlink():
            raise RecordError("file-missing", "It is not there any more.", where=str(path))
        if digest(path) != one["sha256"]:
            raise RecordError(
                "file-changed", "It is not as it was when it was written.", where=str(path)
            )
    for path in folder.rglob("*"):
        if path.is_file() and path not in named and path != folder / CONTENTS:
            raise RecordError("file-added", "It was put in later.", where=str(path))


class FileJournal:
    """A journal out of its lines: read as often as needed, with flat memory but for where each
    batch's entries stand."""

    def __init__(self, folder: Path, station: str) -> None:
        self.station = station
        self._path, self._signed = folder / JOURNAL, folder / SIGNATURES
        self._places: dict[str, list[int]] = {}

    def entries(self) -> Iterator[Entry]:
        """All entries in order. Raises :class:`RecordError` for a line that is none."""
        with self._path.open("rb") as stream:
            at = 0
            for n, line in enumerate(stream, start=1):
                entry = entry_of(_json(line, f"{self._path}, line {n}"), n)
                batch = entry.body.get("batch")
                if isinstance(batch, str):
                    self._places.setdefault(batch, []).append(at)
                at += len(line)
                yield entry

    def batch(self, batch: str) -> Sequence[Entry]:
        """The entries of a batch as far as they were read."""
        with self._path.open("rb") as stream:
            return [self._at(stream, at) for at in dict.fromkeys(self._places.get(batch, ()))]

    def signatures(self) -> Iterable[tuple[int, Signature]]:
        """What was signed, by the entry that it ends with."""
        with self._signed.open("rb") as stream:
            for n, line in enumerate(stream, start=1):
                row = _json(line, f"{self._signed}, line {n}")
                seq = row.pop("seq", None) if isinstance(row, dict) else None
                if not isinstance(seq, int):
                    raise RecordError(
                        "unreadable-signature", "It names no entry.", where=f"line {n}"
                    )
                yield seq, read_signature(row, f"signature of entry {seq}")

    def _at(self, stream: Any, at: int) -> Entry:
        stream.seek(at)
        return entry_of(_json(stream.readline(), f"{self._path}, byte {at}"), at)


def _json(line: bytes, where: str) -> Any:
    try:
        return json.loads(line)
    except (ValueError, RecursionError) as error:
        raise RecordError("unreadable-entry", f"It is not JSON ({error}).", where=where) from error


def _inside(place: str) -> bool:
    path = PurePosixPath(place)
    return not path.is_absolute() and ".." not in path.parts and "\\" not in place


def _none(path: Path, why: str) -> RecordError:
    return RecordError(
        "not-a-folder",
        f"This is no folder that weighd wrote a whole record into ({why}).",
        where=str(path),
        remedy="Name the folder that weighd export --all made.",
    )
