"""When Python looks for what nobody needs any more, in a program that starts fast and runs long.

What is imported stays: looking through it again and again takes a tenth of the time of a start, and
later a stop of some tenths of a second each time all of it is gone through, in the midst of a pour.
"""

from __future__ import annotations

import gc


def wait() -> None:
    """Look for nothing while the program is loaded."""
    gc.disable()


def begin() -> None:
    """All is loaded: throw away what was needed only for that, leave the rest alone from now on."""
    gc.unfreeze()
    gc.collect()
    gc.freeze()
    gc.enable()
