"""Answers kept whole in a file, a line each, and what has become of them."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

TABLES = Path(__file__).parents[2] / "fixtures" / "tables"


class Kept:
    """The file ``name`` in ``folder``. Where an answer is to change, the test's module is run,
    which writes them, and the difference of the file is read like any other."""

    def __init__(self, name: str, folder: Path = TABLES) -> None:
        self.file = folder / name

    def lines(self) -> list[str]:
        """As they are kept."""
        return self.file.read_text("utf-8").splitlines()

    def beside(self, now: Sequence[str]) -> tuple[list[str], list[str]]:
        """Those of ``now`` that are not kept, and kept ones that are not among them."""
        kept = self.lines()
        there, known = set(now), set(kept)
        return [one for one in now if one not in known], [one for one in kept if one not in there]

    def write(self, now: Sequence[str]) -> None:
        """Keep these instead."""
        self.file.write_text("\n".join(now) + "\n", "utf-8")
