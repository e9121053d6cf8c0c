"""The composition root: the only module that knows every concrete class.

The command line calls the functions here; everything below takes what it needs as arguments.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from importlib.metadata import EntryPoint, entry_points
from pathlib import Path
from typing import Any

from weighd import __version__
from weighd.domain.errors import (
    FormulaError,
    OperatorError,
    RecordError,
    ScaleError,
    SessionError,
)
from weighd.domain.formula import Formula
from weighd.domain.formula_text import read_formula, read_ingredients
from weighd.domain.verify import Report, Verifier, export, read_export
from weighd.station.inputs import Command
from weighd.station.ports import Decoder, Driver
from weighd.station.replay import replay
from weighd.station.session import read

DRIVERS = "weighd.drivers"
#: An export larger than this is no batch's record.
LARGEST_EXPORT = 256 * 1024 * 1024


# --- drivers ----------------------------------------------------------------------------------


def driver_points() -> dict[str, EntryPoint]:
    """Every driver installed, ours and others', by name."""
    return {point.name: point for point in entry_points(group=DRIVERS)}


def load_driver(name: str) -> Driver:
    """A driver by name. Raises :class:`ScaleError` when there is none, or it does not load."""
    points = driver_points()
    if name not in points:
        raise ScaleError(
            "unknown-driver",
            f'No driver is called "{name}".',
            remedy="Installed are: " + ", ".join(sorted(points)) + ".",
        )
    try:
        driver = points[name].load()
    except (ImportError, AttributeError) as error:
        raise ScaleError(
            "driver-broken", f"The driver {name} cannot be loaded: {error}."
        ) from error
    if not isinstance(driver, Driver):
        raise ScaleError("driver-broken", f"The driver {name} is not what a driver should be.")
    return driver


def reread(spec: Mapping[str, Any]) -> Decoder:
    """The decoder that a record's evidence names. Raises ``KeyError`` where none is installed."""
    try:
        driver = load_driver(str(spec["driver"]))
    except ScaleError as error:
        raise KeyError(spec["driver"]) from error
    return driver.redecoder({key: value for key, value in spec.items() if key != "driver"})


def session_decoder(settings: Mapping[str, Any]) -> Decoder:
    """The decoder for a scale of a recorded session, from its header."""
    driver = load_driver(str(settings["driver"]))
    shape = {"shape": settings.get("shape", "auto")}
    try:
        return driver.redecoder(shape)
    except KeyError as error:
        raise SessionError(
            "bad-session-header",
            f"The driver {settings['driver']} does not know the shape {shape['shape']}.",
            where="line 1",
        ) from error


# --- files ------------------------------------------------------------------------------------


def read_formula_file(path: Path) -> Formula:
    """The formula in a file; ingredients also from ``ingredients.toml`` beside it."""
    larder = path.parent / "ingredients.toml"
    known = {}
    if larder.is_file() and larder != path:
        known = read_ingredients(_read_text(larder), str(larder))
    return read_formula(_read_text(path), str(path), known)


def _read_text(path: Path) -> str:
    from weighd.storage.shelf import text_of

    return text_of(path)


def verify_file(path: Path) -> tuple[Report, str]:
    """Verify an export or a database; the report, and the head of the chain for a database.

    Raises :class:`RecordError` naming the first entry that does not hold.
    """
    try:
        with path.open("rb") as stream:
            start = stream.read(16)
    except OSError as error:
        raise RecordError(
            "unreadable-file", f"It cannot be read: {error.strerror or error}.", where=str(path)
        ) from error
    if start.startswith(b"SQLite format 3"):
        return _verify_database(path)
    if path.stat().st_size > LARGEST_EXPORT:
        raise RecordError("not-a-record", "The file is too large for a record.", where=str(path))
    try:
        document = json.loads(path.read_bytes())
    except (ValueError, RecursionError) as error:
        raise RecordError(
            "not-a-record", f"This is neither a database nor JSON ({error}).", where=str(path)
        ) from error
    verifier = Verifier(whole=False, reread=reread)
    for entry in read_export(document):
        verifier.take(entry)
    return verifier.finish(), ""


def _verify_database(path: Path) -> tuple[Report, str]:
    """Every station's chain in a database, one after the other."""
    from weighd.storage.journal import open_read_only, stations_in

    total, heads = Report(), []
    for station in stations_in(path):
        verifier = Verifier(whole=True, reread=reread)
        head = ""
        journal = open_read_only(path, station)
        try:
            for entry in journal.entries():
                verifier.take(entry)
                head = entry.hash
        finally:
            journal.close()
        total = total.and_also(verifier.finish())
        heads.append(head)
    return total, ", ".join(heads)


def export_batch(database: Path, batch: str) -> dict[str, Any]:
    """A batch's record out of a database. Raises :class:`RecordError` when there is none."""
    from weighd.storage.journal import open_read_only

    journal = open_read_only(database)
    try:
        entries = journal.batch(batch)
    finally:
        journal.close()
    if not entries:
        raise RecordError("unknown-batch", f"There is no batch {batch}.", where=str(database))
    return export(entries[0].station, batch, entries)


def database_of(config: Path | None) -> Path:
    """The database of the configured station."""
    from weighd.config import load

    return load(config).database


def replay_file(
    session: Path, formula: Path | None, refused: Callable[[str], None] = lambda _text: None
) -> dict[str, Any]:
    """Replay a session; the record of its last batch.

    Raises :class:`SessionError`, or :class:`FormulaError` when a formula is needed and missing.
    """
    from weighd.storage.session_file import session_lines

    header, inputs = read(session_lines(session), str(session))
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

    def tell(command: Command, error: OperatorError) -> None:
        refused(f"at {command.t} s, {command.do}: {error}")

    entries = replay(header, inputs, session_decoder, content, tell)
    if not entries:
        raise SessionError("no-batch", "No batch was started in this session.", where=str(session))
    last = entries[-1].body["batch"]
    return export(header.station, last, [one for one in entries if one.body["batch"] == last])


def version() -> str:
    """The version of weighd."""
    return __version__
