"""A file written whole or not at all, and only over what was read.

The new text is written beside the file, synced, and renamed over it (rename is atomic, POSIX
``rename(2)``); then the folder is synced. A crash leaves the old file or the new one, and at worst
a file whose name begins with a point. Before the rename the file's content is compared once more
with what it was when it was read.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
from pathlib import Path

from weighd.domain.errors import OperatorError
from weighd.station.drafting import NO_FILE
from weighd.storage.syncing import sync


def tag_of(path: Path) -> str:
    """The first half of the SHA-256 of a file's bytes, in hex; :data:`NO_FILE` where there is none.

    Raises ``OSError``.
    """
    try:
        return hashlib.sha256(path.read_bytes()).hexdigest()[:32]
    except FileNotFoundError:
        return NO_FILE


def replace_file(path: Path, text: str, tag: str) -> str:
    """Write ``text`` over ``path``, which must be as it was at ``tag``; its new tag.

    Raises :class:`OperatorError`: ``changed-since`` where it is not, ``cannot-write`` where the
    system refuses. In both cases the file is as it was.
    """
    data = text.encode("utf-8")
    target = path.resolve()  # through a link to where the file is
    beside = target.with_name(f".{target.name}.new")
    try:
        with contextlib.suppress(FileNotFoundError):
            beside.unlink()  # left by a crash
        mode = target.stat().st_mode & 0o777 if target.exists() else 0o644
        made = os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_EXCL, mode)
        try:
            with os.fdopen(made, "wb") as stream:
                stream.write(data)
                stream.flush()
                os.fchmod(stream.fileno(), mode)  # whatever the mask says
                os.fsync(stream.fileno())
            _still(target, tag, path.name)
            beside.replace(target)
        except BaseException:
            with contextlib.suppress(OSError):
                beside.unlink()
            raise
        sync(target.parent)
    except OSError as error:
        raise _cannot(path, error) from error
    return hashlib.sha256(data).hexdigest()[:32]


def put_away(path: Path, into: Path, tag: str) -> Path:
    """Move a file that is as it was at ``tag`` into the folder ``into``; where it is then.

    A file of that name and content that was put away before is written over. Raises as
    :func:`replace_file` does.
    """
    try:
        into.mkdir(exist_ok=True)
        _still(path, tag, path.name)
        there = into / f"{path.stem}.{tag[:12]}{path.suffix}"
        path.replace(there)
        sync(into)
        sync(path.parent)
    except OSError as error:
        raise _cannot(path, error) from error
    return there


def changed(name: str) -> OperatorError:
    """The refusal of a change to a file that is not what it was when it was read."""
    return OperatorError(
        "changed-since",
        f"{name} was changed since you read it, here or by other hands. Nothing was written.",
        where=name,
        remedy="Read it again, then make your change once more.",
    )


def _still(path: Path, tag: str, name: str) -> None:
    if tag_of(path) != tag:
        raise changed(name)


def _cannot(path: Path, error: OSError) -> OperatorError:
    return OperatorError(
        "cannot-write",
        f"{path.name} cannot be written: {error.strerror or error}. It is as it was.",
        where=path.name,
        remedy="See that weighd may write in its folder, and that there is room; then try again.",
    )
