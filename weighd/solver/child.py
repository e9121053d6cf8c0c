"""A solver for another process: ``python -m weighd.solver.child``, which :mod:`.beside` starts.

On standard input come problems, on standard output go answers: each a pickle after its length in
four bytes. Both ends are this program, of this installation, and nobody else has the pipe. It ends
when its input does.
"""

from __future__ import annotations

import pickle
import sys
from typing import BinaryIO

from weighd.domain.errors import SolverError
from weighd.solver.highs import Highs

_HEAD = 4


def main() -> None:
    """Answer until nothing more comes."""
    solver, asked, answers = Highs(), sys.stdin.buffer, sys.stdout.buffer
    while (data := take(asked)) is not None:
        try:
            answer = solver.solve(pickle.loads(data))  # noqa: S301 - it is our own process's
        except SolverError as error:
            answer = (error.code, error.message, error.remedy)  # type: ignore[assignment]
        give(answers, pickle.dumps(answer))


def give(stream: BinaryIO, data: bytes) -> None:
    """Send one. Raises ``OSError``."""
    stream.write(len(data).to_bytes(_HEAD, "big") + data)
    stream.flush()


def take(stream: BinaryIO) -> bytes | None:
    """The next one; ``None`` at the end."""
    head = stream.read(_HEAD)
    if len(head) < _HEAD:
        return None
    length = int.from_bytes(head, "big")
    data = stream.read(length)
    return data if len(data) == length else None


if __name__ == "__main__":
    main()
