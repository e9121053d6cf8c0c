"""Things to tell whoever looks at the page, until somebody puts them away."""

from __future__ import annotations

from dataclasses import dataclass

KEPT = 8


@dataclass(frozen=True, slots=True)
class Notice:
    """Something to tell whoever looks at the page: ``code`` is the kind, ``text`` particulars."""

    id: str
    level: str
    code: str
    text: str
    at: str


class Notices(list[Notice]):
    """The notices that stand, oldest first; no more than the newest few."""

    def __init__(self) -> None:
        super().__init__()
        self._told = 0

    def tell(self, level: str, code: str, text: str, at: str, *, anew: bool = False) -> None:
        """One more. ``anew``: instead of an earlier one of the same kind."""
        self._told += 1
        if anew:
            self[:] = [one for one in self if one.code != code]
        self.append(Notice(f"n{self._told}", level, code, text, at))
        del self[:-KEPT]

    def dismiss(self, notice: str) -> None:
        """Take one down."""
        self[:] = [one for one in self if one.id != notice]
