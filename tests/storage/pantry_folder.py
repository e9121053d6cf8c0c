"""A folder that is no path, as one inside a zipped package is."""

from __future__ import annotations

from pathlib import Path
from typing import Any


class Packaged:
    """A folder inside a zipped package: no path."""

    def __init__(self, path: Path) -> None:
        self._path, self.name = path, path.name

    def iterdir(self) -> Any:
        return (Packaged(one) for one in self._path.iterdir())

    def is_file(self) -> bool:
        return self._path.is_file()

    def open(self, mode: str) -> Any:
        return self._path.open(mode)

    def __truediv__(self, name: str) -> Any:
        return Packaged(self._path / name)
