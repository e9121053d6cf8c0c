"""What is wrong with a serial line, in plain words, and what to do about it."""

from __future__ import annotations

import errno
import grp
import os
import re
import stat
from collections.abc import Iterator
from pathlib import Path

from serial.tools import list_ports

from weighd_drivers.finder import looks_like_rubbish

#: Where a rule for a port goes on Linux.
RULE_FILE = "/etc/udev/rules.d/70-weighd-serial.rules"
#: So many bytes that are no text are a wrong rate, not a disturbance; or so few, where nothing else
#: came for so many seconds.
RUBBISH_BYTES, FEW_BYTES, RUBBISH_S = 256, 16, 3.0
#: So many that are text again are a right one.
TEXT_BYTES = 48
_TEXT = re.compile(rb"[\x01-\x7e]{16}")


#: What the system says of a port whose adapter was pulled out.
GONE = frozenset({errno.EIO, errno.ENODEV, errno.ENXIO})


def number_of(error: Exception) -> int | None:
    """The ``errno`` behind an error of a port, wherever it stands."""
    number = getattr(error, "errno", None)
    if number is None and error.args and isinstance(error.args[0], int):
        number = error.args[0]  # termios.error is no OSError
    if number is None:
        # pyserial tells some causes only in its text.
        found = re.search(r"(?:\[Errno |: \()(\d+)", str(error))
        number = int(found[1]) if found else None
    return number


def why_closed(port: str, error: Exception) -> str:
    """Why a port could not be opened or went away, in a cook's words, and what to do."""
    number = number_of(error)
    if number in {errno.ENOENT, errno.ENODEV, errno.ENXIO}:
        return f"There is no port {port}: the scale or its adapter is not plugged in."
    if number in {errno.EACCES, errno.EPERM}:
        return f"No permission for {port}: {_permission(Path(port))}"
    if number in {errno.EAGAIN, errno.EBUSY}:
        return _busy(port)
    if number in {errno.ENOTTY, errno.EINVAL}:
        return f"{port} is no serial port, or refuses these settings ({error})."
    return f"The line to the scale at {port} was cut ({error}): see that it is plugged in."


# --- in use ---


def _busy(port: str) -> str:
    holders = [pid for pid in holders_of(port) if pid != os.getpid()]
    if holders:
        names = ", ".join(f"{_name_of(pid)} (process {pid})" for pid in holders)
        are = "are" if len(holders) > 1 else "is"
        return f"{names} {are} using {port}: stop it, or leave the scale to it."
    if os.getpid() in holders_of(port):
        return f"Another scale of this weighd is using {port}: each needs a port of its own."
    return f"Another program is using {port}, of another user: close it (sudo fuser -v {port})."


def holders_of(port: str, proc: Path = Path("/proc")) -> list[int]:
    """The processes that have a port open, as far as this user may know (Linux)."""
    wanted = os.path.realpath(port)
    return sorted({pid for pid, path in _open_files(proc) if path == wanted})


def _open_files(proc: Path) -> Iterator[tuple[int, str]]:
    for folder in proc.glob("[0-9]*/fd"):
        try:
            links = list(folder.iterdir())
        except OSError:
            continue
        for link in links:
            try:
                yield int(folder.parent.name), str(link.readlink())
            except OSError:
                continue


def _name_of(pid: int, proc: Path = Path("/proc")) -> str:
    """What a process calls itself: the program, or the module that Python runs."""
    try:
        words = (proc / str(pid) / "cmdline").read_bytes().decode("utf-8", "replace").split("\0")
    except OSError:
        return "another program"
    names = [Path(one).name for one in words if one]
    if "weighd" in names:
        return "Another weighd"
    return names[0] if names else "another program"


# --- permission ---


def _permission(path: Path) -> str:
    group = _group(path)
    if group is not None:
        return (
            f"add the user that runs weighd to the group {group} and start it anew (sudo adduser"
            f" USER {group})."
        )
    return (
        f"no group may use it. Put this line into {RULE_FILE}, plug the adapter in again, and add"
        f" the user that runs weighd to the group dialout: {rule_for(path)}"
    )


def rule_for(path: Path) -> str:
    """The udev rule that lets the group dialout use a port: this adapter, or this name."""
    what = f'KERNEL=="{path.name}"'
    for port in list_ports.comports():
        if port.vid is not None and os.path.realpath(port.device) == os.path.realpath(path):
            what = f'ATTRS{{idVendor}}=="{port.vid:04x}", ATTRS{{idProduct}}=="{port.pid:04x}"'
    return f'SUBSYSTEM=="tty", {what}, GROUP="dialout", MODE="0660"'


def _group(path: Path) -> str | None:
    """The group that may read and write a port; ``None`` where none may but root's.

    Where the port cannot be looked at it is dialout, as usual.
    """
    try:
        found = path.stat()
        name = grp.getgrgid(found.st_gid).gr_name
    except (OSError, KeyError):
        return "dialout"
    both = stat.S_IRGRP | stat.S_IWGRP
    return name if found.st_mode & both == both and name != "root" else None


# --- the wrong rate ---


class Rubbish:
    """Watches whether what comes is text at all. ``now`` says what is so after the newest bytes.

    Bytes come in pieces of any size, and at a wrong rate now and then one looks like a letter: only
    a run of text speaks against rubbish. Read too slowly there are few bytes, and fewer are enough
    where they go on for some seconds.
    """

    def __init__(self) -> None:
        self.now = False
        self._window = b""
        self._since = 0.0

    def feed(self, t: float, data: bytes) -> bool:
        """Whether that has changed with ``data``, which came at ``t`` seconds."""
        self._since = self._since if self._window else t
        self._window += data
        if self.now:
            return self._right_again()
        if _TEXT.search(self._window):
            self._window = b""
            return False
        long = t - self._since >= RUBBISH_S and len(self._window) >= FEW_BYTES
        if len(self._window) < RUBBISH_BYTES and not long:
            return False
        self.now = looks_like_rubbish(self._window)
        self._window = b""
        return self.now

    def _right_again(self) -> bool:
        if len(self._window) < TEXT_BYTES:
            return False
        self.now = looks_like_rubbish(self._window[-TEXT_BYTES:])
        self._window = b""
        return not self.now


def wrong_rate(baud: int, bits: int, parity: str) -> str:
    """Said of a line on which rubbish comes."""
    shown = "no parity" if parity == "none" else f"{parity} parity"
    return (
        f"What comes at {baud} baud, {bits} data bits and {shown} is no text: most likely that is"
        " not what the scale is set to. weighd scales --learn finds it."
    )
