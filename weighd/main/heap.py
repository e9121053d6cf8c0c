"""One heap for all threads, as far as the C library can be asked.

Each thread that answers a page would get a heap of its own, and each would keep the room of the
largest answer it ever made. Python lets one thread run at a time, so that one heap serves them all.
Only the GNU C library is asked; what another one does is its own.
"""

from __future__ import annotations

#: From so many bytes on a piece is a mapping of its own, which ends with it; and so much may lie
#: free at the heap's end. The library would learn larger numbers (mallopt(3); from memory).
LARGE = 128 << 10
#: The numbers of ``malloc.h``: M_TRIM_THRESHOLD, M_MMAP_THRESHOLD and M_ARENA_MAX.
SETTINGS = ((-1, LARGE), (-3, LARGE), (-8, 1))


def keep_together() -> bool:
    """Ask for it, before there are threads; whether it could be asked."""
    try:
        import ctypes

        library = ctypes.CDLL(None)
        ask, _ = library.mallopt, library.gnu_get_libc_version
    except (ImportError, OSError, MemoryError, AttributeError, TypeError):
        return False
    told = [ask(*one) for one in SETTINGS]
    return all(told)
