"""Processor time and memory of processes, out of ``/proc``: what `page.py` and its soak count."""

from __future__ import annotations

import contextlib
import os
from pathlib import Path

_TICK = os.sysconf("SC_CLK_TCK")
#: The processes of Chromium that make a page and draw it; the browser's own is busy with tracing.
_OF_PAGES = (b"--type=renderer", b"--type=gpu-process")


def _fields(pid: int) -> list[str]:
    return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()


def cpu(pid: int) -> float:
    """Seconds of the processor that a process has had."""
    fields = _fields(pid)
    return (int(fields[11]) + int(fields[12])) / _TICK


def cpu_of_pages() -> float:
    """The same of all that makes and draws the pages this process has opened."""
    parents, pages = {}, []
    for name in (one.name for one in Path("/proc").iterdir()):
        if name.isdigit():
            with contextlib.suppress(OSError):  # it has ended
                parents[int(name)] = int(_fields(int(name))[1])
                words = Path(f"/proc/{name}/cmdline").read_bytes()
                if any(kind in words for kind in _OF_PAGES):
                    pages.append(int(name))
    return sum(cpu(pid) for pid in pages if _ours(pid, parents))


def _ours(pid: int, parents: dict[int, int]) -> bool:
    while pid in parents and pid != os.getpid():
        pid = parents[pid]
    return pid == os.getpid()


def resident_mb(pid: int) -> float:
    """What a process holds in memory, in MB."""
    text = Path(f"/proc/{pid}/status").read_text()
    return next(int(line.split()[1]) for line in text.splitlines() if "VmRSS" in line) / 1024


def handles(pid: int) -> int:
    """Its open files and sockets."""
    return len(list(Path(f"/proc/{pid}/fd").iterdir()))


def threads(pid: int) -> int:
    """Its threads."""
    return len(list(Path(f"/proc/{pid}/task").iterdir()))
