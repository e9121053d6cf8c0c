"""What a start keeps of the record, in a file beside it: a cache, and nothing of the record.

Its lines are signed with the station's key, since lots that are blocked, say, are known from it:
who can write into the folder but not read the key cannot have a station believe anything. Who has
the key can; then what was wrongly accepted does not follow from the entries, and ``weighd verify``,
which never looks here, names it. A file that is torn, not signed or of another key is as none.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
from collections.abc import Sequence
from pathlib import Path

from weighd.storage.keys import StationKey, made

START_FILE = "weighd.start"
_STATEMENT = b"weighd start 1\n"


class StartFile:
    """The file of one station. ``read`` and ``write`` may come from any thread, one at a time."""

    def __init__(self, path: Path, key: StationKey) -> None:
        self._path, self._key = path, key

    def read(self) -> Sequence[str] | None:
        """The lines that were kept; ``None`` where there are none to be believed."""
        try:
            data = self._path.read_bytes()
            content, _, value = data.rpartition(b"\n")
            key, signed = bytes.fromhex(self._key.key), bytes.fromhex(value.decode("ascii"))
            if not made(key, signed, _statement(content)):
                return None
            return content.decode("utf-8").split("\n")
        except (OSError, ValueError):
            return None

    def write(self, lines: Sequence[str]) -> None:
        """Keep lines in the place of those before. Raises ``OSError``."""
        content = "\n".join(lines).encode("utf-8")
        beside = self._path.with_name(f".{self._path.name}.new")
        with contextlib.suppress(FileNotFoundError):
            beside.unlink()
        # Not synced: one that is torn when the power goes is as none.
        with os.fdopen(os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as file:
            file.write(content + b"\n" + self._key.sign(_statement(content)).encode("ascii"))
        beside.replace(self._path)


def _statement(content: bytes) -> bytes:
    return _STATEMENT + hashlib.sha256(content).digest()
