"""What a service manager is told, and what it hands over: the protocols of systemd.

``sd_notify(3)``, ``sd_listen_fds(3)`` and ``sd_watchdog_enabled(3)``, from memory: one datagram of
``NAME=value`` lines to ``$NOTIFY_SOCKET``; sockets from file descriptor 3 on. Without a service
manager nothing is told, and nothing of weighd depends on one.

The sockets that the page is served on, one for each door, are left with the service manager
(``FDSTORE=1``): where the station ends in whatever way and is started again, whoever asks meanwhile
waits, and is answered by the next one, instead of being refused.
"""

from __future__ import annotations

import contextlib
import os
import socket
from collections.abc import Iterable, MutableMapping

#: The first file descriptor that is handed over.
FIRST = 3
#: What the socket of each door is called at the service manager.
PAGE, ELSEWHERE = "page", "elsewhere"
#: How long it may take to take a message, seconds: the scales are waiting meanwhile.
PATIENCE_S = 0.1
#: A status is one line, and no novel.
LONGEST_STATUS = 300


class Supervisor:
    """The service manager of this process, if it has one.

    ``watchdog_s``  it ends the process where it is not told within so many seconds that it goes
                    on; ``None`` where it does not look.
    """

    def __init__(self, environment: MutableMapping[str, str] | None = None) -> None:
        """Take over what stands in the environment, which is then gone from there: what this
        process starts speaks for itself."""
        env = os.environ if environment is None else environment
        self._address = env.pop("NOTIFY_SOCKET", "")
        self.watchdog_s = _watchdog(env.pop("WATCHDOG_USEC", ""), env.pop("WATCHDOG_PID", ""))
        self._handed = list(_handed(env))
        self._there: set[str] = set()
        self._status = ""

    @property
    def there(self) -> bool:
        """Whether there is one."""
        return bool(self._address)

    def ready(self) -> None:
        """The station does its work from now on."""
        self._tell("READY=1")

    def alive(self) -> None:
        """It goes on: to be told at least once in ``watchdog_s``."""
        self._tell("WATCHDOG=1")

    def stopping(self) -> None:
        """It ends, and was asked to."""
        self._tell("STOPPING=1", "STATUS=Stopping.")

    def status(self, text: str) -> None:
        """What it does, for whoever asks the service manager; told when it is another."""
        text = " ".join(text.split())[:LONGEST_STATUS]
        if text != self._status:
            self._status = text
            self._tell(f"STATUS={text}")

    def handed(self, name: str, host: str, port: int) -> socket.socket | None:
        """The socket of this name that was handed over; ``None`` where none listens at the address.

        One that listens elsewhere (the configuration was changed) is closed, here and there: at the
        service manager it would go on to listen, and nobody would answer.
        """
        mine = [one for called, one in self._handed if called == name]
        self._handed = [(called, one) for called, one in self._handed if called != name]
        found = next((one for one in mine if _listens(one, host, port)), None)
        for one in mine:
            if one is not found:
                one.close()
        if found is not None:
            self._there.add(name)
        elif mine:
            self._tell("FDSTOREREMOVE=1", f"FDNAME={name}")
        return found

    def keep(self, name: str, sock: socket.socket, host: str, port: int) -> None:
        """Leave a door's socket with the service manager, for the next one that is started.

        Only one that will be known again: at an address, not at a name or any free port. One that
        was handed over is there still.
        """
        if name not in self._there and _listens(sock, host, port):
            self._tell("FDSTORE=1", f"FDNAME={name}", fds=(sock.fileno(),))

    def let_go(self, name: str) -> None:
        """Have no socket of this name any more: that door is shut."""
        self.handed(name, "", 0)

    def _tell(self, *lines: str, fds: Iterable[int] = ()) -> None:
        if not self._address:
            return
        address = "\0" + self._address[1:] if self._address[0] == "@" else self._address
        # A service manager that does not listen is no reason to stop weighing.
        with contextlib.suppress(OSError), socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as out:
            out.settimeout(PATIENCE_S)
            out.connect(address)
            socket.send_fds(out, ["\n".join(lines).encode()], list(fds))


def _watchdog(microseconds: str, pid: str) -> float | None:
    """Within how many seconds it is to be told; ``None`` where another process is meant."""
    if not microseconds.isdigit() or int(microseconds) == 0:
        return None
    return int(microseconds) / 1e6 if pid in ("", str(os.getpid())) else None


def _handed(env: MutableMapping[str, str]) -> Iterable[tuple[str, socket.socket]]:
    """What was handed over, by name; nameless ones are the page's."""
    pid, count = env.pop("LISTEN_PID", ""), env.pop("LISTEN_FDS", "")
    names = env.pop("LISTEN_FDNAMES", "").split(":")
    if pid != str(os.getpid()) or not count.isdigit():
        return
    for number in range(int(count)):
        name = names[number] if number < len(names) else ""
        try:
            os.set_inheritable(FIRST + number, False)  # noqa: FBT003 - takes no name
            yield name if name == ELSEWHERE else PAGE, socket.socket(fileno=FIRST + number)
        except OSError:
            continue  # no socket, or no descriptor at all


def _listens(sock: socket.socket, host: str, port: int) -> bool:
    """Whether a socket listens at an address. A name, and port 0, could be any: never those."""
    try:
        if sock.type != socket.SOCK_STREAM or not sock.getsockopt(
            socket.SOL_SOCKET, socket.SO_ACCEPTCONN
        ):
            return False
        at = sock.getsockname()
    except OSError:
        return False
    shown = {"localhost": "127.0.0.1"}.get(host, host)
    return bool(port) and isinstance(at, tuple) and tuple(at[:2]) == (shown, port)
