"""Memory that the allocator holds and nobody uses, given back to the system.

What a page asks for at once (a hundred batches, say) is gone as soon as it is answered, but what
stays and is small lies in between, and the heap would grow a little with every batch. Two things
hold it down: large pieces never lie in the heap, and what is free in it is let go of now and then.
Both are asked of the GNU C library; where there is another one, nothing is done.
"""

from __future__ import annotations

import threading
from typing import Any

#: Seconds between two looks, and how much may lie free in the heap.
LOOK_S = 30.0
MOST_FREE = 4 << 20
#: From so many bytes on a piece is a mapping of its own, which ends with it. The library would
#: learn to put ever larger ones into the heap (mallopt(3), M_MMAP_THRESHOLD; from memory).
LARGE = 128 << 10
_M_MMAP_THRESHOLD = -3


class Heap:
    """The heap of this process. ``run`` in a thread of its own."""

    def __init__(self) -> None:
        self._c = _library()

    @property
    def free(self) -> int:
        """Bytes that lie free in it; 0 where nobody can tell."""
        return 0 if self._c is None else int(self._c.mallinfo2().fordblks)

    def give_back(self) -> None:
        """Let go of what is free, wherever it lies; some thousandths of a second."""
        if self._c is not None:
            self._c.malloc_trim(0)

    def run(self, stop: threading.Event) -> None:
        """Look until it is to stop."""
        if self._c is None:
            return
        self._c.mallopt(_M_MMAP_THRESHOLD, LARGE)
        while not stop.wait(LOOK_S):
            if self.free > MOST_FREE:
                self.give_back()


def _library() -> Any:
    """The C library, if it is one that can be asked."""
    try:
        import ctypes

        library = ctypes.CDLL(None)
        given = [library.mallinfo2, library.malloc_trim, library.mallopt]
    except (ImportError, OSError, MemoryError, AttributeError, TypeError):
        return None

    class Told(ctypes.Structure):
        """``struct mallinfo2`` (mallinfo(3))."""

        _fields_ = [
            (name, ctypes.c_size_t)
            for name in (
                *("arena", "ordblks", "smblks", "hblks", "hblkhd", "usmblks", "fsmblks"),
                *("uordblks", "fordblks", "keepcost"),
            )
        ]

    given[0].restype = Told
    given[1].argtypes = [ctypes.c_size_t]
    return library
