"""``make test-vm``: the daemon on a real USB stack, in a virtual machine without privileges.

    python tests/vm/run.py [--log FILE]

It exits 0 where everything held, 1 where something did not, 2 where something is missing. What is
tested stands in ``guest.py``; this is the side of the hardware: it sends the serial scale's lines,
plugs its adapter in and out when the guest asks, and looks at what the adapter was set to.
"""

from __future__ import annotations

import argparse
import compileall
import os
import queue
import re
import resource
import shlex
import signal
import subprocess
import sys
import tempfile
import threading
import time
from pathlib import Path

import machine

ROOT = Path(__file__).resolve().parents[2]
CACHE = Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache") / "weighd-vm"
#: The whole run in the guest, seconds; a machine that hangs is ended then. A calm one needs a
#: fraction, but without KVM everything takes as much longer as others take of the processors.
LONGEST_S = 600
LINE = b"ST,+    432.1 g\r\n"
#: The adapter's own account of what it was set to, as qemu traces it.
SET_7E1 = re.compile(r"usb_serial_set_data .*parity E, data bits 7, stop bits 1")


def main() -> int:
    """Prepare, run, report."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--log", type=Path, help="where to keep what the machine said")
    given = parser.parse_args()
    began = time.monotonic()
    try:
        machine.prepare()
        place = machine.kernel(CACHE)
    except machine.MissingError as error:
        print(f"test-vm: {error}", file=sys.stderr)
        return 2
    for part in ("weighd", "drivers", "tests/vm"):
        compileall.compile_dir(ROOT / part, quiet=2)
    print(f"test-vm: prepared in {time.monotonic() - began:.1f} s", flush=True)
    with tempfile.TemporaryDirectory(prefix="weighd-vm-") as folder:
        return Run(place, Path(folder), given.log).ended()


class Run:
    """One run of the machine."""

    #: What it is called, and as long as each start of the machine may take.
    name = "test-vm"
    longest_s: float = LONGEST_S
    #: The machine is started anew, with the same disks, as often as the guest asks for it.
    most_starts = 1

    def __init__(self, place: Path, folder: Path, log: Path | None) -> None:
        self._folder, self._log = folder, log
        self._command = self._made(place, folder)
        self._said: list[str] = []
        self._stop = threading.Event()
        # A port that is opened while bytes wait in qemu's adapter may never come up.
        self._sending = threading.Event()

    def _made(self, place: Path, folder: Path) -> list[str]:
        """What the machine starts with, in ``folder``, and how it is started."""
        guest = Path(__file__).with_name("guest.py")
        # PATH as a login has it: what is documented is run by name.
        job = (
            "cd /; export PATH=/usr/sbin:/usr/bin:/sbin:/bin HOME=/root PYTHONPATH=/run/app"
            " PYTHONDONTWRITEBYTECODE=1;"
            f" {shlex.quote(sys.executable)} {shlex.quote(str(guest))};"
            ' echo "GUEST ended $?"; /bin/busybox poweroff -f'
        )
        machine.application(folder / "app.tar")
        machine.initramfs(place, job, folder / "initrd")
        return machine.command(place, folder)

    def ended(self) -> int:
        """Run to the end; what to exit with."""
        began = time.monotonic()
        # Told to end, it ends the machine as well.
        signal.signal(signal.SIGTERM, lambda *_: sys.exit(1))
        for number in range(self.most_starts):
            said = len(self._said)
            self._start()
            if number + 1 < self.most_starts and not any(
                "GUEST starts anew" in one for one in self._said[said:]
            ):
                break
        return self._verdict(time.monotonic() - began)

    def _start(self) -> None:
        """From one start of the machine to its end."""
        self._sending.clear()
        self._stop = threading.Event()
        process = subprocess.Popen(
            self._command, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT, text=True, errors="replace",
        )  # fmt: skip
        lines: queue.Queue[str | None] = queue.Queue()
        reader = threading.Thread(target=self._read, args=(process, lines), daemon=True)
        reader.start()
        try:
            self._attend(lines)
        finally:
            self._stop.set()
            process.kill()
            process.wait()
            reader.join(10)

    def _attend(self, lines: queue.Queue[str | None]) -> None:
        began = time.monotonic()
        monitor = machine.Monitor(self._folder / "qmp")
        line = machine.connected(self._folder / "line")
        weighing = threading.Thread(target=self._weigh, args=(line, self._stop), daemon=True)
        weighing.start()
        while (left := began + self.longest_s - time.monotonic()) > 0:
            try:
                said = lines.get(timeout=left)
            except queue.Empty:
                break
            if said is None:
                return
            if "HOST plug " in said:
                monitor.plug(said.split()[-1])
            elif "HOST send" in said:
                self._sending.set()
            elif "HOST unplug" in said:
                self._sending.clear()
                monitor.unplug()
        self._said.append(f"GUEST did not end within {self.longest_s} s\n")

    def _read(self, process: subprocess.Popen[str], lines: queue.Queue[str | None]) -> None:
        assert process.stdout is not None
        for said in process.stdout:
            self._said.append(said)
            if self._log:
                with self._log.open("a") as log:
                    log.write(said)
            if found := re.search(r"(GUEST|HOST) .*", said):
                print(found[0], flush=True)
                lines.put(said)
        lines.put(None)

    def _weigh(self, line: machine.socket.socket, stop: threading.Event) -> None:
        """The scale on the serial line: whole lines, twenty a second."""
        while not stop.wait(0.05):
            if not self._sending.is_set():
                continue
            try:
                line.sendall(LINE)
            except OSError:
                return

    def _set_so(self, said: str) -> bool:
        """Whether the adapter was set as it should be."""
        return bool(SET_7E1.search(said))

    def _verdict(self, seconds: float) -> int:
        said = "".join(self._said)
        held = "GUEST ended 0\n" in said.replace("\r", "")
        set_so = self._set_so(said)
        if not set_so:
            print(f"{self.name}: the serial adapter was not set to 7 data bits and even parity")
        if not held or not set_so:
            print("".join([one for one in self._said if "usb_serial_" not in one][-150:]))
        used = resource.getrusage(resource.RUSAGE_CHILDREN)
        print(
            f"{self.name}: {'all held' if held and set_so else 'FAILED'} in {seconds:.1f} s,"
            f" {used.ru_utime + used.ru_stime:.0f} s of processor time"
        )
        return 0 if held and set_so else 1


if __name__ == "__main__":
    sys.exit(main())
