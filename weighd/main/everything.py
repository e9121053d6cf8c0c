"""Everything a station has recorded, into one folder; and whether such a folder holds by itself."""

from __future__ import annotations

import json
import re
import shutil
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from weighd import __version__
from weighd.clock import SystemClock
from weighd.config import FILE_NAME, load
from weighd.domain.errors import OperatorError, RecordError
from weighd.domain.signing import HeadCheck, root_of, short, signed_head
from weighd.domain.verify import read_export, verify_export
from weighd.main.drivers import reread
from weighd.main.files import database_of, read_document, write_text
from weighd.main.outputs import Days, batches_in, sheet
from weighd.main.proving import Verified, kept_head, station_key_of, verify_journal, whole_document
from weighd.main.shipped import record_schema
from weighd.main.tables import write_all
from weighd.storage import copies
from weighd.storage.faults import of_system
from weighd.storage.journal import open_read_only
from weighd.storage.keys import made, public_pem, read_public_key
from weighd.storage.whole_folder import (
    BATCHES,
    CONTENTS,
    HEAD,
    JOURNAL,
    SIGNATURES,
    FileJournal,
    check_files,
    contents_of,
    read_contents,
    statement_of,
)

if TYPE_CHECKING:
    from weighd.storage.journal import SqlJournal

_ABOUT = """Everything that station {station} has recorded, as of {at}.

journal.jsonl     every entry of the record, a line each (RFC 8785 bodies, chained by SHA-256)
signatures.jsonl  what the station's key signed of it
head.json         a signature under all of it
batches/          each batch by itself, as JSON (record.schema.json says what is in it){sheets}
tables/           what was weighed and what came of it, as CSV
formulas/, {config}   the kitchen's files as they stood; passwords are taken out
keys/             the public keys that signed. Have the station's from the station itself
contents.json     what is in this folder, signed

weighd verify FOLDER --key KEY says whether all of it holds.
"""
_PASSWORD = re.compile(r"(://[^/\s:@\"']+):[^@\s\"']+@")


@dataclass(frozen=True, slots=True)
class Everything:
    """What was written: where, how many entries, batches and files, and how large it is."""

    folder: Path
    entries: int
    batches: int
    files: int
    size: int


def write_everything(
    config: Path | None, database: Path | None, folder: Path, *, sheets: bool = True
) -> Everything:
    """Write all of it into a folder that is not there yet.

    ``sheets``  each batch as a record sheet (PDF/A) besides.
    Raises :class:`OperatorError`, ``file-exists``, :class:`JournalError` and :class:`RecordError`;
    then nothing is left.
    """
    settings, source = load(config), database or database_of(config)
    if folder.exists():
        raise OperatorError(
            "file-exists", "It is there already.", where=str(folder), remedy="Name another folder."
        )
    _, key = station_key_of(config, source)
    part = folder.with_name(folder.name + ".part")
    at = SystemClock().utc()
    shutil.rmtree(part, ignore_errors=True)  # of an export that was cut short
    try:
        part.mkdir(parents=True)
        # One moment of the record, however much is being written meanwhile.
        copy = part / "record.db"
        copies.copy_database(source, copy)
        journal = open_read_only(copy)
        try:
            if not journal.tail().seq:
                raise RecordError("empty-record", "Nothing was recorded yet.", where=str(source))
            names = _records(journal, copy, part, sheets=sheets)
            size, root = root_of(journal.hashes(journal.tail().seq))
            station, last = journal.station, journal.tail().hash
        finally:
            journal.close()
        _put(part / HEAD, signed_head(key, station, size, root, at).as_json())
        _kitchen(settings.file, settings.place(settings.station.formulas), part)
        (part / "keys").mkdir()
        for one in {key.key, *_keys(part)}:
            write_text(part / "keys" / f"{short(one)}.pem", public_pem(one))
        about = _ABOUT.format(
            station=station, at=at, config=FILE_NAME, sheets=" and as a sheet" if sheets else ""
        )
        write_text(part / "README.txt", about)
        write_text(part / "record.schema.json", record_schema())
        copy.unlink()
        facts = {"station": station, "at": at, "weighd": __version__, "key": key.key}
        contents = contents_of(part, {**facts, "entries": size, "last": last})
        contents["value"] = key.sign(statement_of(contents))
        _put(part / CONTENTS, contents)
        copies.name(part, folder)
    except BaseException as error:
        shutil.rmtree(part, ignore_errors=True)
        if isinstance(error, OSError):
            raise of_system(error, part) from error
        raise
    whole = sum(one["size"] for one in contents["files"])
    return Everything(folder, size, names, len(contents["files"]), whole)


def verify_folder(folder: Path, keys: Sequence[str] = (), heads: Sequence[Path] = ()) -> Verified:
    """Whether a folder holds, from its files alone. Raises :class:`RecordError` naming what does
    not."""
    trusted = [read_public_key(one) for one in keys]
    contents = read_contents(folder)
    station, key = str(contents["station"]), str(contents["key"])
    if not made(bytes.fromhex(key), bytes.fromhex(contents["value"]), statement_of(contents)):
        raise RecordError(
            "bad-signature",
            f"Key {short(key)} did not sign these contents: they were changed.",
            where=str(folder / CONTENTS),
        )
    if trusted and key not in trusted:
        raise RecordError(
            "wrong-key",
            f"The folder is signed by key {short(key)}, which is not one that is trusted.",
            where=str(folder / CONTENTS),
        )
    check_files(folder, contents)
    own = kept_head(folder / HEAD, trusted)
    checks = [HeadCheck(one) for one in (own, *(kept_head(one, trusted) for one in heads))]
    journal = FileJournal(folder, station)
    report, last = verify_journal(journal, trusted, checks)
    if (report.entries, last) != (contents["entries"], contents["last"]):
        raise RecordError(
            "cut-short", "The journal ends elsewhere than the contents say.", where=str(folder)
        )
    for path in sorted((folder / BATCHES).glob("*.json")):
        _same(journal, path, trusted)
    return Verified(report, [(station, report.entries, last)])


def _same(journal: FileJournal, path: Path, trusted: Sequence[str]) -> None:
    """A batch's own file holds, and is of the journal beside it."""
    document = read_document(path)
    try:
        verify_export(document, reread, made, trusted if document.get("signatures") else ())
    except RecordError as error:
        error.where = f"{path.name}, {error.where}"
        raise
    mine = [one.hash for one in read_export(document)]
    if mine != [one.hash for one in journal.batch(str(document["batch"]))]:
        raise RecordError(
            "not-in-journal", "It is another batch than the journal's.", where=str(path)
        )


def _records(journal: SqlJournal, copy: Path, part: Path, *, sheets: bool) -> int:
    """Journal, signatures, batches, tables; how many batches there are."""
    with (part / JOURNAL).open("w", encoding="utf-8") as out:
        for entry in journal.entries():
            out.write(_line(entry.as_json()))
    with (part / SIGNATURES).open("w", encoding="utf-8") as out:
        for seq, one in journal.signatures():
            out.write(_line({"seq": seq, **one.as_json()}))
    (part / BATCHES).mkdir()
    names = batches_in(journal, Days())
    for name in names:
        try:
            document = whole_document(journal, name, str(copy))
        except RecordError as error:
            if error.code != "put-away":
                raise
            continue  # it is in its archive
        _put(part / BATCHES / f"{name}.json", document)
        if sheets:
            (part / BATCHES / f"{name}.pdf").write_bytes(sheet(document)[0])
    if names:
        write_all(copy, None, Days(), part / "tables")
    return len(names)


def _kitchen(config: Path | None, formulas: Path, part: Path) -> None:
    """Formulas and configuration; what opens something else is taken out of it."""
    if formulas.is_dir():
        (part / copies.FORMULAS).mkdir()
        for one in copies.texts(formulas):
            shutil.copyfile(one, part / copies.FORMULAS / one.name)
    if config is not None:
        text = config.read_text("utf-8")
        write_text(part / FILE_NAME, _PASSWORD.sub(r"\1:***@", text))


def _keys(part: Path) -> Iterator[str]:
    with (part / SIGNATURES).open(encoding="utf-8") as stream:
        for line in stream:
            yield json.loads(line)["key"]


def _put(path: Path, value: Any) -> None:
    write_text(path, json.dumps(value, ensure_ascii=False, indent=1) + "\n")


def _line(value: Any) -> str:
    return json.dumps(value, ensure_ascii=False, separators=(",", ":")) + "\n"
