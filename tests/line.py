"""A line between a client and a server on loopback that can be cut, and can swallow what is sent.

One thread serves all connections. What goes through is cut in chunks as it comes; a rule looks at
each chunk on its way and says what becomes of the line.
"""

from __future__ import annotations

import selectors
import socket
import threading
from collections.abc import Callable
from contextlib import suppress
from types import TracebackType

#: What a rule says of a chunk: let it pass, cut the line before or after it, or swallow it and all
#: that comes after it, with the line kept open.
PASS, CUT_BEFORE, CUT_AFTER, SWALLOW = "pass", "cut before", "cut after", "swallow"
Rule = Callable[[bool, bytes], str]


class Line:
    """Listens on ``port`` of loopback and passes on to ``to``, while its ``with`` lasts.

    ``rule``  asked for each chunk: whether it goes up to the server, and its bytes.
    """

    def __init__(self, to: int, rule: Rule | None = None) -> None:
        self.to = to
        self.rule = rule
        self.cuts = 0
        self._heard = socket.create_server(("127.0.0.1", 0))
        self.port: int = self._heard.getsockname()[1]
        self._turn = threading.Lock()
        self._pairs: dict[socket.socket, tuple[socket.socket, bool]] = {}
        self._deaf: set[socket.socket] = set()
        self._look = selectors.DefaultSelector()
        self._look.register(self._heard, selectors.EVENT_READ)
        self._over = threading.Event()
        self._thread = threading.Thread(target=self._run, name="line", daemon=True)

    def __enter__(self) -> Line:
        self._thread.start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._over.set()
        self._thread.join(10)
        self.cut()
        self._heard.close()
        self._look.close()

    def cut(self) -> None:
        """Cut every connection that there is now."""
        with self._turn:
            for one in list(self._pairs):
                self._close(one)

    def _run(self) -> None:
        while not self._over.is_set():
            for key, _ in self._look.select(0.05):
                with self._turn:
                    if key.fileobj is self._heard:
                        self._accept()
                    elif key.fileobj in self._pairs:
                        assert isinstance(key.fileobj, socket.socket)
                        self._pass_on(key.fileobj)

    def _accept(self) -> None:
        here, _ = self._heard.accept()
        try:
            there = socket.create_connection(("127.0.0.1", self.to), timeout=5)
        except OSError:
            here.close()
            return
        for one, other, up in ((here, there, True), (there, here, False)):
            one.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
            self._pairs[one] = (other, up)
            self._look.register(one, selectors.EVENT_READ)

    def _pass_on(self, one: socket.socket) -> None:
        other, up = self._pairs[one]
        try:
            chunk = one.recv(65536)
        except OSError:
            chunk = b""
        if not chunk:
            self._close(one)
            return
        if one in self._deaf:
            return
        verdict = PASS if self.rule is None else self.rule(up, chunk)
        if verdict == SWALLOW:
            self._deaf |= {one, other}
            return
        if verdict in (PASS, CUT_AFTER):
            with suppress(OSError):
                other.sendall(chunk)
        if verdict != PASS:
            self.cuts += 1
            self._close(one)

    def _close(self, one: socket.socket) -> None:
        other, _ = self._pairs.pop(one, (None, False))
        for it in (one, other):
            if it is not None:
                self._pairs.pop(it, None)
                self._deaf.discard(it)
                with suppress(KeyError, ValueError):
                    self._look.unregister(it)
                it.close()
