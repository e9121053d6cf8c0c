"""Seeing that a file or a folder is on the disk."""

from __future__ import annotations

import os
from pathlib import Path


def sync(path: Path) -> None:
    """Return once what a file holds, or which names a folder has, is on the disk.

    Raises ``OSError``.
    """
    held = os.open(path, os.O_RDONLY)
    try:
        os.fsync(held)
    finally:
        os.close(held)
