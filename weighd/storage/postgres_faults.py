"""What went wrong with a shared store, in a cook's words.

States are those of https://www.postgresql.org/docs/current/errcodes-appendix.html; a connection
that was not made has none, and there the server's words are all there is.
"""

from __future__ import annotations

import re

from weighd.domain.errors import JournalError

_KEPT = "What was recorded is safe in the station's own record, and is sent when this is put right."
_TEXTS = {
    "store-away": (
        "The shared store does not answer.",
        f"Look at the network and at the database's machine. {_KEPT}",
    ),
    "store-refused": (
        "The shared store refuses this station.",
        f"Look at its user, its password and what it is granted there. {_KEPT}",
    ),
    "store-missing": (
        "There is no such database at the shared store.",
        "Make it there, or correct the address in the configuration.",
    ),
    "store-full": (
        "The disk of the shared store is full.",
        f"Free some space there. {_KEPT}",
    ),
    "store-locked": (
        "The shared store is busy with something else.",
        f"If this does not pass, see what holds the database there. {_KEPT}",
    ),
    "store-read-only": (
        "The shared store takes nothing new: it can only be read.",
        f"Name the server that can be written to. {_KEPT}",
    ),
    "store-corrupt": (
        "The database of the shared store is damaged.",
        f"Put back a copy of it there. {_KEPT}",
    ),
    "store-io": (
        "The disk of the shared store failed.",
        f"Look at the disk of the database's machine. {_KEPT}",
    ),
    "store-newer": (
        "A newer weighd keeps the shared store; this one would not understand it.",
        f"Use that version or a later one here. The store was not touched. {_KEPT}",
    ),
    "store-older": (
        "The shared store was made by an older weighd.",
        "Bring it up to date once: weighd share --set-up ADDRESS, as the owner of its tables.",
    ),
    "store-not-ours": (
        "This database is not a record of weighd.",
        "Name another in the configuration. The database was not touched.",
    ),
    "store-empty": (
        "The shared store has no tables yet.",
        "Make them once: weighd share --set-up ADDRESS, as who shall own them.",
    ),
    "store-address": (
        "This is not the address of a shared store.",
        "Write it as postgresql://USER@HOST:PORT/DATABASE.",
    ),
    "store-closed": ("The shared store is closed.", "Open it again."),
    "store-failed": (
        "The shared store cannot be used.",
        f"See the log of the database. {_KEPT}",
    ),
}

#: States, or the two characters of their class.
_STATES = {
    "08": "store-away",
    "28": "store-refused",
    "42501": "store-refused",
    "3D000": "store-missing",
    "53100": "store-full",
    "53": "store-away",
    "57014": "store-locked",
    "57": "store-away",
    "55": "store-locked",
    "40": "store-locked",
    "25006": "store-read-only",
    "25P03": "store-away",
    "42P01": "store-not-ours",
    "42703": "store-not-ours",
    "58": "store-io",
    "XX001": "store-corrupt",
    "XX002": "store-corrupt",
}
#: What servers say when a connection is refused for good, and not because they are busy.
_REFUSED = re.compile(r"authentication|password|pg_hba|permission|role .*does not exist|not permit")
_MISSING = re.compile(r"database .*does not exist")


def fault(code: str, where: str, detail: str = "", *, then: str = "") -> JournalError:
    """The error of a code. ``then`` is said after it."""
    message, remedy = _TEXTS[code]
    if detail:
        message = f"{message[:-1]} ({detail})."
    if then:
        message += f" {then}"
    return JournalError(code, message, where=where, remedy=remedy)


def code_of(state: str | None, words: str) -> str:
    """The code of an error's state; of its words where a connection was not made."""
    if state is not None:
        return _STATES.get(state) or _STATES.get(state[:2], "store-failed")
    if _MISSING.search(words):
        return "store-missing"
    return "store-refused" if _REFUSED.search(words) else "store-away"


def short(words: str, secret: str = "") -> str:
    """The last line of an error's words that says something, without the password."""
    lines = [one.strip() for one in words.splitlines() if one.strip()]
    said = next((one for one in lines if "FATAL" in one), lines[0] if lines else "")
    if secret:
        said = said.replace(secret, "…")
    return said.rstrip(".")[:200]
