"""Copies of a station's record, and a station out of a copy."""

from __future__ import annotations

import errno
import os
import re
import shutil
import time
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from weighd import __version__
from weighd.clock import SystemClock
from weighd.config import FILE_NAME, Config, load
from weighd.domain.errors import JournalError, OperatorError
from weighd.domain.verify import Report
from weighd.main.daemon import DATABASE
from weighd.main.proving import Verified, verify_file
from weighd.storage import copies
from weighd.storage.copies import Copy
from weighd.storage.devices import forget_devices
from weighd.storage.faults import of_system
from weighd.storage.keys import KEY_FILE, write_key
from weighd.storage.revision_bundle import BUNDLE, bundle, unbundle
from weighd.storage.sealed_key import SEALED_FILE, open_key, seal_key

_SEALED = f"{copies.RECORD}/{SEALED_FILE}"
_BUNDLE = f"{copies.FORMULAS}/{BUNDLE}"


@dataclass(frozen=True, slots=True)
class Backed:
    """A copy that was made and verified, and how many older ones were taken away for it."""

    copy: Copy
    report: Report
    removed: int


@dataclass(frozen=True, slots=True)
class PutBack:
    """A station out of a copy: its configuration, its record, and what has to be seen to."""

    copy: Copy
    report: Report
    database: Path
    config: Path | None
    told: Sequence[str]


def back_up(
    config: Path | None, into: Path, *, keep: int | None, passphrase: str | None = None
) -> Backed:
    """Copy the configured station's record, formulas and configuration into a folder.

    ``passphrase``  the private key goes along too, sealed with it.
    ``keep``  how many copies of this station stay in the folder, the new one counted.
    Raises :class:`JournalError`, and :class:`RecordError` where the copy does not verify; then
    there is no copy, and no older one was taken away.
    """
    settings, at = load(config), SystemClock().utc()
    station = settings.station.name
    keep = settings.retention.backups if keep is None else keep
    if keep is not None and keep < 1:
        raise OperatorError("bad-number", "At least one copy is kept.", where="--keep")
    stamp = re.sub(r"[-:]|\.\d+", "", at)
    whole = into / f"{_plain(station)}-{stamp}"
    part = whole.with_name(whole.name + copies.PART)
    if whole.exists():
        raise JournalError("file-exists", "A copy of this second is there.", where=str(whole))
    try:
        part.mkdir(parents=True)
    except OSError as error:
        raise of_system(error, part) from error
    try:
        report = _fill(settings, part, passphrase)
        last = report.ends[0][2] if report.ends else ""
        made = copies.seal(
            part,
            station=station,
            at=at,
            entries=report.report.entries,
            last=last,
            version=__version__,
            paths=_paths(settings),
        )
        copies.name(part, whole)
    except BaseException as error:
        shutil.rmtree(part, ignore_errors=True)
        if isinstance(error, OSError):
            raise of_system(error, part) from error
        raise
    older = [] if keep is None else copies.copies(into, station)[:-keep]
    copies.remove(older)
    for one in copies.left_over(into, _plain(station), now=time.time()):
        shutil.rmtree(one, ignore_errors=True)
    return Backed(replace(made, folder=whole), report.report, len(older))


def put_back(folder: Path, to: Path, passphrase: str | None = None) -> PutBack:
    """A station out of a copy, in a folder where there is none yet.

    ``passphrase``  opens the private key, where the copy has it; without one it is left out.
    Devices that were let in are out: whoever was forgotten since the copy was made would be in.
    The copy is verified before anything is written. Raises :class:`JournalError`,
    :class:`RecordError` and :class:`OperatorError`, ``wrong-passphrase``.
    """
    copy = copies.read(folder)
    copies.check(copy)
    report = verify_file(folder / copies.DATABASE).report
    told = list[str]()
    secret = _opened(copy, passphrase)
    data = _inside(copy, "data", "weighd-data", told)
    formulas = _inside(copy, "formulas", "formulas", told)
    folders = {copies.RECORD: to / data, copies.FORMULAS: to / formulas, "": to}
    places = {}
    for one in copy.files:
        if one.place in (_SEALED, _BUNDLE):
            continue
        kind, _, name = one.place.rpartition("/")
        places[one.place] = folders[kind] / name
    devices = 0

    def finish(record: Path) -> None:
        nonlocal devices
        devices = forget_devices(record)
        if (folder / _BUNDLE).is_file():
            left = unbundle((folder / _BUNDLE).read_text("utf-8"), to / formulas)
            if left:
                told.append(f"{left} earlier revisions of formulas are left out: they are none.")
        if secret is not None:
            _keep_key(record.with_name(KEY_FILE), secret)

    written = copies.put_back(copy, places, finish)
    config = to / FILE_NAME if to / FILE_NAME in written else None
    if secret is None and not any(one.name == KEY_FILE for one in written):
        there = "was not asked for" if has_sealed_key(copy) else "is not in the copy"
        told.append(
            f"The station's key {there}: put {KEY_FILE} beside the record, or a new one is made at "
            "the next start, and the record will say which one it signed with before."
        )
    if devices:
        told.append(
            f"Other devices that were let in ({devices}) are out, since one that was forgotten "
            "after this copy was made would be in again: let each in anew (Settings, Devices, or "
            "weighd pair)."
        )
    told.append(
        "The old machine must not go on with this record: stop weighd there for good. Should both "
        "go on, a head of the one does not hold for the other (weighd head --check), and a shared "
        "store takes only one of them."
    )
    return PutBack(copy, report, places[copies.DATABASE], config, told)


def _keep_key(path: Path, secret: bytes) -> None:
    """The key to where there is none, or the same. Raises ``FileExistsError`` for another."""
    if path.exists() and path.read_bytes() != secret:
        raise FileExistsError(errno.EEXIST, os.strerror(errno.EEXIST), str(path))
    write_key(path, secret)


def has_sealed_key(copy: Copy) -> bool:
    """Whether the private key is in a copy, sealed with a passphrase."""
    return any(one.place == _SEALED for one in copy.files)


def _opened(copy: Copy, passphrase: str | None) -> bytes | None:
    if passphrase is None or not has_sealed_key(copy):
        return None
    path = copy.folder / _SEALED
    return open_key(path.read_text("utf-8"), passphrase, str(path))


def _fill(settings: Config, part: Path, passphrase: str | None) -> Verified:
    """All that a copy consists of; what was found in its record."""
    database = settings.place(settings.station.data) / DATABASE
    copies.copy_database(database, part / copies.DATABASE)
    found = verify_file(part / copies.DATABASE)
    if passphrase is not None:
        sealed = seal_key(database.with_name(KEY_FILE), passphrase)
        (part / _SEALED).write_text(sealed, encoding="utf-8")
    formulas = settings.place(settings.station.formulas)
    if formulas.is_dir():
        (part / copies.FORMULAS).mkdir()
        for one in copies.texts(formulas):
            shutil.copyfile(one, part / copies.FORMULAS / one.name)
        if text := bundle(formulas):
            (part / _BUNDLE).write_text(text, encoding="utf-8")
    if settings.file is not None:
        shutil.copyfile(settings.file, part / FILE_NAME)
    return found


def _paths(settings: Config) -> dict[str, str]:
    """Where data and formulas stand, as far as that is beside the configuration."""
    out = {}
    for name in ("data", "formulas"):
        path: Path = getattr(settings.station, name)
        if not path.is_absolute() and ".." not in path.parts:
            out[name] = path.as_posix()
    return out


def _inside(copy: Copy, name: str, usual: str, told: list[str]) -> Path:
    """Where something is put back: as it stood beside the configuration, else where is usual."""
    path = Path(copy.paths.get(name, usual))
    if name not in copy.paths or path.is_absolute() or ".." in path.parts:
        told.append(
            f"{name} stood elsewhere; it is put back into {usual}. Set [station] {name} to that."
        )
        return Path(usual)
    return path


def _plain(name: str) -> str:
    return re.sub(r"[^A-Za-z0-9_-]", "-", name)
