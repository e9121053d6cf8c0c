"""Threads that answer share one heap, and leave nothing behind in it."""

from __future__ import annotations

import ctypes
import subprocess
import sys
from typing import Any

import pytest

from weighd.main import heap

#: Eight threads that each hold 8 MB at once, in small pieces; how many heaps there are then, as
#: ``malloc_info`` tells it in XML.
ANSWERS = """
import ctypes, sys, tempfile, threading
from xml.etree import ElementTree
from weighd.main.heap import keep_together

if sys.argv[1] == "together":
    assert keep_together()
meet = threading.Barrier(8)

def answer():
    pieces = [bytes(2000) for _ in range(4000)]
    meet.wait()

threads = [threading.Thread(target=answer) for _ in range(8)]
for one in threads:
    one.start()
for one in threads:
    one.join()
library = ctypes.CDLL(None)
library.fdopen.restype = ctypes.c_void_p
with tempfile.TemporaryFile() as file:
    stream = ctypes.c_void_p(library.fdopen(file.fileno(), b"w"))
    library.malloc_info(0, stream)
    library.fflush(stream)
    file.seek(0)
    print(len(ElementTree.fromstring(file.read()).findall("heap")))
"""


def gnu() -> bool:
    return hasattr(ctypes.CDLL(None), "gnu_get_libc_version")


def heaps(how: str) -> int:
    asked = [sys.executable, "-c", ANSWERS, how]
    return int(subprocess.run(asked, capture_output=True, text=True, check=True).stdout)


@pytest.mark.skipif(not gnu(), reason="needs the GNU C library")
def test_threads_that_answer_share_one_heap() -> None:
    assert heaps("together") == 1
    assert heaps("apart") > 1  # else this test sees nothing


def test_the_settings_are_those_of_the_library(monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[tuple[int, int]] = []

    class Library:
        gnu_get_libc_version = None

        def __init__(self, _name: Any) -> None:
            pass

        def mallopt(self, what: int, value: int) -> int:
            asked.append((what, value))
            return 1

    monkeypatch.setattr(ctypes, "CDLL", Library)
    assert heap.keep_together()
    assert asked == [(-1, 131072), (-3, 131072), (-8, 1)]


def test_another_library_is_left_as_it_is(monkeypatch: pytest.MonkeyPatch) -> None:
    class Other:
        def __init__(self, _name: Any) -> None:
            pass

    monkeypatch.setattr(ctypes, "CDLL", Other)
    assert not heap.keep_together()
    monkeypatch.setitem(sys.modules, "ctypes", None)
    assert not heap.keep_together()
