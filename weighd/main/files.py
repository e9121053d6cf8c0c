"""What the command line does with files: formulas, records, sessions."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from weighd.domain.errors import (
    ConfigError,
    FormulaError,
    OperatorError,
    RecordError,
    SessionError,
    WeighdError,
)
from weighd.domain.formula import Formula
from weighd.domain.formula_text import read_formula, read_ingredients
from weighd.domain.record import Entry, Tail
from weighd.domain.verify import export, read_export
from weighd.main.drivers import session_decoder
from weighd.main.shipped import shipped_text
from weighd.station.check_history import of_batch
from weighd.station.inputs import Command
from weighd.station.replay import replay
from weighd.station.session import read
from weighd.storage.address import Place, shown

if TYPE_CHECKING:
    from weighd.domain.limits import ProductClass

#: An export larger than this is no batch's record.
LARGEST_EXPORT = 256 * 1024 * 1024
LIMITS = "limits.toml"


def read_formula_file(path: Path) -> Formula:
    """The formula in a file; ingredients also from ``ingredients.toml`` beside it."""
    larder = path.parent / "ingredients.toml"
    known = {}
    if larder.is_file() and larder != path:
        known = read_ingredients(read_text(larder), str(larder))
    from weighd.storage.shelf import heat_tables

    return read_formula(read_text(path), str(path), known, heat_tables())


def is_export(path: Path) -> bool:
    """Whether a file is JSON, as exported records are, and no formula."""
    try:
        with path.open("rb") as stream:
            return stream.read(64).lstrip(b"\xef\xbb\xbf \t\r\n").startswith(b"{")
    except OSError:
        return False  # whoever reads it as a formula says why


def read_limits_file(path: Path | None, *, beside: Path | None) -> dict[str, ProductClass]:
    """The limits in a file; without one in ``limits.toml`` beside a formula, else those that ship.

    Raises :class:`ConfigError`.
    """
    from weighd.domain.limits import read_limits

    own = path or (beside.parent / LIMITS if beside else None)
    if own is not None and (path or own.is_file()):
        kinds = read_limits(read_text(own), str(own))
        if path and not kinds:
            raise ConfigError(
                "bad-limits",
                "The file names no class of product.",
                where=str(path),
                remedy="Leave it out to take the usual limits.",
            )
        return kinds
    return read_limits(shipped_text(LIMITS), LIMITS)


def read_text(path: Path) -> str:
    """A file's text. Raises :class:`FormulaError` where it cannot be read."""
    from weighd.storage.shelf import text_of

    return text_of(path)


def write_new(path: Path, text: str) -> None:
    """Write a file that is not there yet. Raises :class:`OperatorError` where it is, or cannot."""
    try:
        with path.open("x", encoding="utf-8") as stream:
            stream.write(text)
    except FileExistsError as error:
        raise OperatorError(
            "file-exists", "It is there already.", where=str(path), remedy="Name another file."
        ) from error
    except OSError as error:
        raise OperatorError(
            "cannot-write", f"It cannot be written: {error.strerror or error}.", where=str(path)
        ) from error


def write_text(path: Path, text: str) -> None:
    """Write a file. Raises :class:`OperatorError` where that cannot be done."""
    try:
        path.write_text(text, encoding="utf-8")
    except OSError as error:
        raise OperatorError(
            "cannot-write", f"It cannot be written: {error.strerror or error}.", where=str(path)
        ) from error


def read_document(path: Path, largest: int = LARGEST_EXPORT, code: str = "not-a-record") -> Any:
    """The JSON in a file. Raises :class:`RecordError`, with ``code`` where it is none."""
    try:
        if path.stat().st_size > largest:
            raise RecordError(code, "The file is too large to be one.", where=str(path))
        return json.loads(path.read_bytes())
    except OSError as error:
        raise RecordError(
            "unreadable-file", f"It cannot be read: {error.strerror or error}.", where=str(path)
        ) from error
    except (ValueError, RecursionError) as error:
        raise RecordError(code, f"This is not JSON ({error}).", where=str(path)) from error


def database_of(config: Path | None) -> Path:
    """The database of the configured station."""
    from weighd.config import load
    from weighd.main.daemon import DATABASE

    settings = load(config)
    return settings.place(settings.station.data) / DATABASE


def formula_content(session: Path, formula: Path | None) -> Callable[[Any], Mapping[str, Any]]:
    """What a session's ``start`` names, as a formula's content: the file's, where one is given.

    The answer raises :class:`FormulaError` when a formula is needed and missing.
    """
    given = read_formula_file(formula).content() if formula else None

    def content(named: Any) -> Mapping[str, Any]:
        if given is not None:
            return given
        if isinstance(named, Mapping):
            return named
        raise FormulaError(
            "no-formula",
            "The session does not carry its formula.",
            where=str(session),
            remedy="Name the file with --formula.",
        )

    return content


def learned_of(config: Path | None) -> dict[str, dict[str, Any]]:
    """What the configured station learned of its scales, in words and numbers for people."""
    from weighd.config import load
    from weighd.station.known import told
    from weighd.storage.journal import open_read_only

    journal = open_read_only(database_of(config), load(config).station.name)
    try:
        known = journal.learned().all()
    finally:
        journal.close()
    return {name: told(one) for name, (_, one) in sorted(known.items())}


def forget_scale(config: Path | None, scale: str) -> None:
    """Forget what was learned of a scale. Raises :class:`OperatorError` where nothing was, and
    :class:`JournalError` while a station runs."""
    from weighd.config import load
    from weighd.storage.journal import open_journal

    database = database_of(config)
    known = list(learned_of(config))
    if scale not in known:
        raise OperatorError(
            "unknown-scale",
            f'Nothing was learned of a scale called "{scale}".',
            where=shown(database),
            remedy=f"Known are: {', '.join(known)}." if known else "",
        )
    journal = open_journal(database, load(config).station.name)
    try:
        journal.learned().forget(scale)
    finally:
        journal.close()


def replay_file(
    session: Path, formula: Path | None, refused: Callable[[str], None] = lambda _text: None
) -> dict[str, Any]:
    """Replay a session; the record of its last batch.

    Raises :class:`SessionError`, or :class:`FormulaError` when a formula is needed and missing.
    """
    from weighd.storage.memory import MemoryJournal
    from weighd.storage.session_file import session_lines

    header, inputs = read(session_lines(session), str(session))
    content = formula_content(session, formula)

    def tell(command: Command, error: WeighdError) -> None:
        refused(f"at {command.t} s, {command.do}: {error}")

    entries = replay(header, inputs, session_decoder, content, tell)
    batches = [one.body["batch"] for one in entries if "batch" in one.body]
    if not batches:
        raise SessionError("no-batch", "No batch was started in this session.", where=str(session))
    journal = MemoryJournal(header.station, Tail(header.seq, header.hash))
    journal.append(entries)
    mine = journal.batch(batches[-1])
    return export(header.station, batches[-1], mine, of_batch(journal, mine))


def entries_to_show(database: Place, batch: str) -> list[Sequence[Entry]]:
    """The entries of a batch, or of each in process where none is named.

    Raises :class:`RecordError`, ``unknown-batch``.
    """
    from weighd.storage.journal import open_read_only

    journal = open_read_only(database, batch=batch)
    try:
        found = [journal.batch(batch)] if batch else list(journal.in_process())
    finally:
        journal.close()
    if batch and not found[0]:
        raise RecordError("unknown-batch", f"There is no batch {batch}.", where=shown(database))
    return found


def entries_of_file(path: Path) -> Sequence[Entry]:
    """The entries of an export. Raises :class:`RecordError`."""
    return read_export(read_document(path))
