"""``weighd`` on a machine with one serial port, which is named first: ``with_port.py PORT serve``.

A pseudo-terminal stands in no list of the system's; everything else is as it is.
"""

from __future__ import annotations

import os
import sys
from pathlib import Path
from types import SimpleNamespace

from serial.tools import list_ports

from tests.forked import hurry


def main() -> None:
    """Be weighd, with that port alone."""
    port = sys.argv.pop(1)
    one = SimpleNamespace(
        device=port, description="USB serial adapter", vid=None, pid=None, serial_number=None
    )
    list_ports.comports = lambda *_: [one] if Path(port).exists() else []
    if "WEIGHD_TESTS_CLOCK" in os.environ:
        hurry(*map(float, os.environ["WEIGHD_TESTS_CLOCK"].split()))
    from weighd.cli.app import main as weighd

    weighd()


if __name__ == "__main__":
    main()
