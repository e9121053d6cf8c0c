"""The end of a service manager: a socket that notes what it is told, and keeps what it is given."""

from __future__ import annotations

import os
import socket
import threading
import time
from pathlib import Path
from types import TracebackType

from tests.station.daemon import until


class Notified:
    """Listens at ``address`` (``$NOTIFY_SOCKET``); ``said`` is every line with its time."""

    def __init__(self, folder: Path) -> None:
        self.address = str(folder / "notify")
        self.said: list[tuple[float, str]] = []
        self.kept: list[int] = []
        self._socket = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
        self._socket.bind(self.address)
        self._thread = threading.Thread(target=self._listen, daemon=True)

    def __enter__(self) -> Notified:
        self._thread.start()
        return self

    def __exit__(
        self,
        _kind: type[BaseException] | None,
        _error: BaseException | None,
        _trace: TracebackType | None,
    ) -> None:
        with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as last:
            last.sendto(b"", self.address)
        self._thread.join(5)
        self._socket.close()
        for one in self.kept:
            os.close(one)

    def lines(self, name: str = "", since: float = 0.0) -> list[str]:
        """What was said, of one name if any."""
        return [one for at, one in list(self.said) if at >= since and one.startswith(name)]

    def hears(self, line: str, seconds: float = 30.0) -> float:
        """When a line that begins like this was said first; waits for it."""
        until(lambda: self.lines(line), seconds, lambda: self.said)
        return next(at for at, one in self.said if one.startswith(line))

    def _listen(self) -> None:
        while True:
            data, given, _, _ = socket.recv_fds(self._socket, 4096, 4)
            if not data:
                return
            self.kept += given
            self.said += [(time.monotonic(), one) for one in data.decode().split("\n")]
