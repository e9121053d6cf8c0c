"""Revisions of formulas in a folder of texts beside them: ``.revisions/FORMULA/REVISION.json``.

1. Whenever the formulas were read and one is another than before, it is kept, whoever changed it. A
   file is written whole and never over.
2. No more than :data:`MOST` of a formula: the oldest goes, never the newest.
3. A file that is none is told and left out. Where nothing can be written, that is told too, and
   everything else goes on.
"""

from __future__ import annotations

import contextlib
import json
from collections.abc import Callable, Iterable, Iterator, Sequence
from pathlib import Path

from weighd.domain.errors import FormulaError, OperatorError
from weighd.domain.formula import Formula
from weighd.domain.formula_kept import Found, Kept, kept_of
from weighd.domain.formula_text import is_id
from weighd.storage.replacing import replace_file, tag_of

#: The folder, beside the formulas.
REVISIONS = ".revisions"
#: Revisions that are kept of a formula: some years of changing it every week.
MOST = 200
#: Of a file; the content of a formula with all its facts is some kB.
LARGEST_BYTES = 1024 * 1024


class KeptRevisions:
    """The folder. Used by one thread at a time.

    ``utc``  the present time, as RFC 3339 with ``Z``.
    """

    def __init__(self, formulas: Path, utc: Callable[[], str]) -> None:
        self._folder = formulas / REVISIONS
        self._utc = utc
        self._said = Found.FILE, ""
        self._wrong: FormulaError | None = None

    @contextlib.contextmanager
    def said(self, how: Found, by: str) -> Iterator[None]:
        """What is met as new meanwhile came about like this."""
        self._said = how, by
        try:
            yield
        finally:
            self._said = Found.FILE, ""

    def met(self, formulas: Iterable[Formula]) -> None:
        """Keep the formulas of which this revision is not kept yet."""
        how, by = self._said
        self._wrong = None
        for one in formulas:
            folder = self._folder / one.id
            try:
                if is_id(one.id) and not (folder / f"{one.revision}.json").exists():
                    kept = Kept(one.id, one.revision, one.content(), how, by, self._utc())
                    write_kept(folder, kept)
            except (OSError, OperatorError) as error:
                why = (error.strerror or error) if isinstance(error, OSError) else error.message
                self._wrong = FormulaError(
                    "cannot-keep",
                    f"Revisions of formulas cannot be kept: {why}",
                    where=f"{REVISIONS}/{one.id}",
                    remedy="See that weighd may write in the folder of formulas.",
                )

    def of(self, formula: str) -> tuple[Sequence[Kept], Sequence[FormulaError]]:
        """What is kept of a formula, oldest first, and what is wrong with files that are none."""
        good, bad = list[Kept](), [] if self._wrong is None else [self._wrong]
        for path in _files(self._folder / formula) if is_id(formula) else ():
            try:
                kept = read_kept(path)
            except FormulaError as error:
                bad.append(FormulaError(error.code, error.message, where=_shown(path)))
            except (OSError, ValueError, KeyError, TypeError, RecursionError) as error:
                bad.append(
                    FormulaError(
                        "unreadable-file",
                        f"A revision that was kept cannot be read: {error}.",
                        where=_shown(path),
                    )
                )
            else:
                good.append(kept)
        return sorted(good, key=lambda one: one.at), bad


def _files(folder: Path) -> list[Path]:
    """The files of a formula; none where there is no folder."""
    try:
        return sorted(one for one in folder.iterdir() if one.suffix == ".json")
    except OSError:
        return []


def _bound(folder: Path) -> None:
    """Make room for one more: the oldest files go. Raises ``OSError``."""
    there = sorted(_files(folder), key=lambda one: (one.stat().st_mtime_ns, one.name))
    for one in there[: max(0, len(there) - MOST + 1)]:
        one.unlink()


def write_kept(folder: Path, kept: Kept) -> None:
    """Keep a revision in the folder of its formula, where it is not there yet.

    Raises ``OSError`` and :class:`OperatorError`.
    """
    path = folder / f"{kept.revision}.json"
    if path.exists():
        return
    folder.mkdir(parents=True, exist_ok=True)
    _bound(folder)
    text = json.dumps(kept.as_json(), ensure_ascii=False, indent=1)
    replace_file(path, text + "\n", tag_of(path))


def read_kept(path: Path) -> Kept:
    """What a file holds, seen to be the revision that its name says.

    Raises :class:`FormulaError`, ``OSError``, ``ValueError``, ``KeyError``, ``TypeError`` and
    ``RecursionError`` where it does not hold one.
    """
    if path.stat().st_size > LARGEST_BYTES:
        raise ValueError("it is too large")
    given = json.loads(path.read_text("utf-8"))
    if not isinstance(given, dict):
        raise TypeError("it is no object")
    kept = kept_of(given)
    if (kept.formula, kept.revision) != (path.parent.name, path.stem):
        raise ValueError("it is of another formula, or another revision")
    kept.read()
    return kept


def _shown(path: Path) -> str:
    return f"{REVISIONS}/{path.parent.name}/{path.name}"
