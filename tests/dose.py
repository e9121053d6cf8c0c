"""How much of what can be repeated at will a run takes: the suite some, ``make test-long`` more."""

from __future__ import annotations

import os

#: Whether this run takes the long dose: ``WEIGHD_LONG=1``.
LONG = os.environ.get("WEIGHD_LONG") == "1"


def dose(usual: int, long: int) -> int:
    """So many examples, lives or kills."""
    return long if LONG else usual
