"""Records as somebody makes them who can compute hashes too."""

from __future__ import annotations

from collections.abc import Iterable

from weighd.domain.record import NOTHING_BEFORE, Entry, Tail, seal


def sealed_anew(entries: Iterable[Entry], tail: Tail | None = None) -> list[Entry]:
    """A batch's entries with their bodies, and every number, hash and link made to fit again.

    ``tail``  what they follow; nothing without it.
    """
    out, tail, after = list[Entry](), tail or Tail(), NOTHING_BEFORE
    for n, one in enumerate(entries, start=1):
        made = seal(one.station, one.kind, one.at, {**one.body, "n": n, "after": after}, tail)
        out.append(made)
        tail, after = Tail(made.seq, made.hash), made.hash
    return out
