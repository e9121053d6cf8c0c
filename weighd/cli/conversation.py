"""Lines on standard input answered one by one: what ``weighd settle`` and ``cue`` share."""

from __future__ import annotations

import json
import sys
from collections.abc import Mapping
from decimal import Decimal
from typing import IO, Any, Protocol

from weighd.domain import mass
from weighd.domain.reading import Reading
from weighd.station.reading_lines import reading_of

_NO_READING = (ValueError, KeyError, TypeError, AttributeError, ArithmeticError, RecursionError)


class Answers(Protocol):
    """Whoever answers the lines. All but ``unreadable`` may raise for what makes no sense."""

    def reset(self, row: Mapping[str, Any]) -> None:
        """A line that begins the next addition; it has no answer."""
        ...

    def answer(self, reading: Reading) -> dict[str, Any]:
        """The answer to a reading."""
        ...

    def unreadable(self) -> dict[str, Any]:
        """The answer to a line that is no reading."""
        ...


def standard_input() -> IO[str]:
    """Standard input as text; bytes that are no text are no reading either."""
    if hasattr(sys.stdin, "reconfigure"):
        sys.stdin.reconfigure(errors="replace")
    return sys.stdin


def converse(lines: IO[str], out: IO[str], answers: Answers) -> bool:
    """Answer every line before the next is read; whether all of them could be read.

    What could not be is told on standard error with its number, and answered all the same:
    exactly one answer to each reading, so that the two sides stay in step.
    """
    clean = True
    for number, text in enumerate(lines, start=1):
        if not text.strip():
            continue
        reset = False
        try:
            row = json.loads(text)
            reset = bool(row.get("reset"))
            if reset:
                answers.reset(row)
                continue
            answer = answers.answer(reading_of(row))
        except _NO_READING as error:
            clean = False
            what = "reset" if reset else "reading"
            print(f"line {number} is not a {what}: {_words(error)}", file=sys.stderr)
            if reset:
                continue
            answer = answers.unreadable()
        out.write(json.dumps(answer) + "\n")
        out.flush()
    return clean


def text(grams: Decimal | None) -> str | None:
    """A mass as an answer writes it."""
    return None if grams is None else mass.text(grams)


def _words(error: Exception) -> str:
    return f"{error} is missing" if isinstance(error, KeyError) else str(error)
