"""Puts old batches away on a disk that fails from a step on: run under ``tests/storage/shim.c``.

``failing_archive.py CONFIG FOLDER`` reads lines ``STEP sync|write ERRNO``, does each on a copy of
the kitchen in FOLDER, and answers ``NAME CODE``: the copy's name and the code of what was told.
"""

from __future__ import annotations

import ctypes
import os
import shutil
import sys
from pathlib import Path

from weighd.domain.errors import WeighdError
from weighd.main.archiving import archive


def main(config: Path, folder: Path) -> None:
    """Answer each line."""
    disk = ctypes.CDLL(None)
    for n, line in enumerate(sys.stdin):
        at, what, number = line.rsplit(maxsplit=2)
        here = folder / f"{n}"
        shutil.copytree(config.parent, here)
        fail = disk.disk_fail if what == "sync" else disk.disk_full

        def step(name: str, at: str = at, fail: object = fail, number: str = number) -> None:
            if name == at:
                fail(int(number))  # type: ignore[operator]

        code = "nothing"
        try:
            archive(here / config.name, "2022-01-01", here / "old.gz", "Ada", "old", step)
        except WeighdError as error:
            code = error.code if error.remedy else f"{error.code}-without-remedy"
        disk.disk_fail(0)
        disk.disk_full(0)
        print(here.name, code, flush=True)


if __name__ == "__main__":
    main(Path(sys.argv[1]), Path(sys.argv[2]))
    sys.stdout.flush()
    os._exit(0)
