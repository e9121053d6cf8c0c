"""When Python looks for what nobody needs any more, in a program that starts fast and runs long.

What is imported stays: looking through it again and again takes a tenth of the time of a start, and
later a stop of a tenth of a second each time all of it is gone through, in the midst of a pour.
"""

from __future__ import annotations

import gc


def wait() -> None:
    """Look for nothing while the program is loaded."""
    gc.disable()


def begin() -> None:
    """It is loaded: what is there by now is left alone. (Next to nothing of it could be thrown
    away, and finding that would take as long as all that was saved.)"""
    gc.freeze()
    gc.enable()
