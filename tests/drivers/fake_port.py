"""A serial port that does what a real one does at a wrong rate or parity: a pty never shows it.

The line is simulated bit by bit (start bit, data from the lowest, parity, stop bit) and sampled at
the rate that is set, as a UART does. A character without a stop bit is read as NUL (termios(3),
neither IGNPAR nor PARMRK); a wrong parity is not noticed (INPCK off, as pyserial sets it).
"""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache


@lru_cache(maxsize=4096)
def seen(data: bytes, sent: tuple[int, int, str], read: tuple[int, int, str]) -> bytes:
    """What is read of ``data`` written at (baud, bits, parity N, E or O) at another setting."""
    rate, bits, parity = sent
    levels = [1]
    for code in data:
        character = [code >> n & 1 for n in range(bits)]
        levels += [0, *character]
        if parity != "N":
            levels.append((sum(character) + (parity == "O")) % 2)
        levels.append(1)
    levels += [1] * 12
    falls = [n / rate for n in range(1, len(levels)) if levels[n - 1] and not levels[n]]

    def level(t: float) -> int:
        return levels[min(int(t * rate), len(levels) - 1)]

    speed, width, other = read
    out = bytearray()
    at = 0.0
    for fall in falls:
        if fall < at or level(fall + 0.5 / speed):
            continue
        marks = [level(fall + (1.5 + n) / speed) for n in range(width + (other != "N") + 1)]
        out.append(sum(bit << n for n, bit in enumerate(marks[:width])) if marks[-1] else 0)
        at = fall + (1.5 + len(marks) - 1) / speed
    return bytes(out)


class FakePort:
    """What :class:`weighd_drivers.learn.Port` asks for, with a clock of its own.

    ``report``  what the scale prints the n-th time. ``request``: it prints only when asked so.
    """

    def __init__(
        self,
        report: Callable[[int], bytes],
        line: tuple[int, int, str] = (9600, 8, "N"),
        request: bytes = b"",
        every_s: float = 0.1,
        timeout: float = 0.05,
    ) -> None:
        self.baudrate, self.bytesize, self.parity = 9600, 8, "N"
        self.timeout = timeout
        self.written: list[bytes] = []
        self._report, self._line, self._request = report, line, request
        self._every, self._t, self._next, self._count = every_s, 0.0, 0.0, 0
        self._buffer = bytearray()

    def now(self) -> float:
        return self._t

    def _set(self) -> tuple[int, int, str]:
        return self.baudrate, self.bytesize, self.parity

    def _print(self) -> None:
        self._buffer += seen(self._report(self._count), self._line, self._set())
        self._count += 1

    def _pass(self, seconds: float) -> None:
        self._t += seconds
        while not self._request and self._next <= self._t:
            self._print()
            self._next += self._every

    @property
    def in_waiting(self) -> int:
        return len(self._buffer)

    def read(self, size: int = 1, /) -> bytes:
        self._pass(0.001 if self._buffer else self.timeout)
        out = bytes(self._buffer[:size])
        del self._buffer[:size]
        return out

    def write(self, data: bytes, /) -> int:
        self.written.append(data)
        if self._request and seen(data, self._set(), self._line) == self._request:
            self._print()
        return len(data)

    def reset_input_buffer(self) -> None:
        self._buffer.clear()
