"""How far the shared store is behind a station's own record: a value that is shown and told."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Any


class Going(StrEnum):
    """How the record goes to the shared store."""

    CURRENT = "current"
    BEHIND = "behind"
    #: Nothing goes until somebody does something about it.
    STOPPED = "stopped"


#: Codes of errors after which waiting does not help.
STOPS = frozenset(
    {
        "shared-ahead",
        "shared-forked",
        "shared-altered",
        "hash-mismatch",
        "unreadable-entry",
        "journal-forked",
        "batch-exists",
        "store-refused",
        "store-missing",
        "store-newer",
        "store-older",
        "store-empty",
        "store-not-ours",
        "store-corrupt",
        "needs-extra",
    }
)


@dataclass(frozen=True, slots=True)
class Outgoing:
    """How a record goes.

    ``store``    the shared store's address, without a password.
    ``behind``   entries that it does not have yet, as far as is known here.
    ``since``    when the oldest of them was made (UTC); empty where there is none.
    ``contact``  when it was last heard (UTC); empty for never.
    ``code``     the last error's code, empty where the last contact went well; ``why``, its words.
    """

    store: str
    behind: int = 0
    since: str = ""
    contact: str = ""
    code: str = ""
    why: str = ""

    @property
    def state(self) -> Going:
        """The state in a word."""
        if self.code in STOPS:
            return Going.STOPPED
        return Going.BEHIND if self.behind else Going.CURRENT

    def as_json(self) -> dict[str, Any]:
        """As pages and programs are shown it."""
        return {
            "state": self.state,
            "store": self.store,
            "behind": self.behind,
            "since": self.since or None,
            "contact": self.contact or None,
            "code": self.code,
            "why": self.why,
        }
