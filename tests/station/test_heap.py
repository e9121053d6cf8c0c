"""What lies free in the heap goes back to the system."""

from __future__ import annotations

import subprocess
import sys
import threading

import pytest

from weighd.main import heap
from weighd.main.heap import Heap

#: Forty MB in small pieces, of which one in twenty stays: what a page's questions leave behind.
SCATTERED = """
import os
from pathlib import Path
from weighd.main.heap import Heap

def resident():
    return int(Path("/proc/self/statm").read_text().split()[1]) * os.sysconf("SC_PAGE_SIZE") >> 20

pieces = [bytes(2000) for _ in range(20000)]
kept = pieces[::20]
del pieces
it = Heap()
before, free = resident(), it.free >> 20
it.give_back()
print(free, before - resident())
"""

needs = pytest.mark.skipif(Heap().free == 0, reason="needs the GNU C library")


@needs
def test_what_is_scattered_is_given_back() -> None:
    asked = [sys.executable, "-c", SCATTERED]
    told = subprocess.run(asked, capture_output=True, text=True, check=True).stdout
    free, given = map(int, told.split())
    assert free > 30
    assert given > 20  # a page with one piece that stays is kept whole


class _Looks(threading.Event):
    """Stops after so many looks."""

    def __init__(self, looks: int) -> None:
        super().__init__()
        self.left = looks

    def wait(self, timeout: float | None = None) -> bool:
        assert timeout == heap.LOOK_S
        self.left -= 1
        return self.left < 0


class _Library:
    """A C library that counts."""

    def __init__(self, *free: int) -> None:
        self._free = list(free)
        self.trimmed = 0
        self.set: list[tuple[int, int]] = []

    def mallinfo2(self) -> _Library:
        return self

    @property
    def fordblks(self) -> int:
        return self._free.pop(0)

    def malloc_trim(self, pad: int) -> None:
        assert pad == 0
        self.trimmed += 1

    def mallopt(self, what: int, value: int) -> None:
        self.set.append((what, value))


def test_it_is_looked_at_until_the_end_and_given_back_where_there_is_much() -> None:
    it, library = Heap(), _Library(0, heap.MOST_FREE, heap.MOST_FREE + 1)
    it._c = library
    it.run(_Looks(3))
    assert library.trimmed == 1
    assert library.set == [(-3, heap.LARGE)]  # M_MMAP_THRESHOLD of malloc.h


def test_with_another_library_nothing_is_done(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "ctypes", None)
    it = Heap()
    assert it.free == 0
    it.give_back()
    it.run(threading.Event())
