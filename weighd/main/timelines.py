"""Recordings, looked at again: a session or a log of readings to its trace, text and plot."""

from __future__ import annotations

import json
from collections.abc import Iterator
from itertools import chain
from pathlib import Path
from typing import Any

from weighd.domain.errors import OperatorError, SessionError
from weighd.main.drivers import session_decoder
from weighd.main.files import formula_content
from weighd.reports.trace import Trace
from weighd.reports.tracing import Tracer, log_trace
from weighd.station.inputs import Input
from weighd.station.replay import replay
from weighd.station.session import read
from weighd.storage.session_file import session_lines

#: What a plot can be written as.
FORMATS = (".svg", ".png")


def trace_of(path: Path, formula: Path | None = None) -> Trace:
    """What was seen in a recorded session, or in a log of readings.

    Raises :class:`SessionError` for a file that is neither or holds no reading, and
    :class:`FormulaError` where a session needs a formula that it does not carry.
    """
    lines = session_lines(path)
    blank = list[str]()
    first: Any = None
    for text in lines:
        blank.append(text)  # kept, so that lines are numbered as in the file
        if text.strip():
            first = _object(text)
            break
    whole = chain(blank, lines)
    if isinstance(first, dict) and "session" in first:
        trace = _session(path, whole, formula)
    elif isinstance(first, dict) and ("reset" in first or "grams" in first):
        trace = log_trace(path.name, whole)
    else:
        raise SessionError(
            "not-a-session",
            "This is neither a recorded session nor a log of readings.",
            where=str(path),
            remedy='A session begins with {"session": 1, ...}, a log with a line like '
            '{"t": 0.1, "grams": "12.3", "stable": true, "over": false}.',
        )
    if not any(one.points for one in trace.scales.values()):
        raise SessionError(
            "no-readings",
            "Not one reading could be made of what was recorded.",
            where=str(path),
            remedy="weighd decode says what could not be read.",
        )
    return trace


def _session(path: Path, lines: Iterator[str], formula: Path | None) -> Trace:
    header, inputs = read(lines, str(path))
    tracer = Tracer(path.name, header.note)
    last = [0.0]

    def timed() -> Iterator[Input]:
        for event in inputs:
            last[0] = event.t
            yield event

    content = formula_content(path, formula)
    replay(header, timed(), session_decoder, content, tracer.refused, tracer)
    return tracer.finish(last[0])


def scale_of(trace: Trace, asked: str | None) -> str:
    """The scale to look at: the one asked for, or weighed on, or that said anything.

    Raises :class:`OperatorError` when the one asked for is not there, or said nothing.
    """
    heard = [name for name, one in trace.scales.items() if one.points]
    if asked is None:
        weighed = [one.scale for one in trace.parts if one.scale in heard]
        return (weighed or heard)[0]
    if asked not in heard:
        raise OperatorError(
            "unknown-scale",
            f'No readings of a scale "{asked}" are in this recording.',
            where=trace.name,
            remedy="It has: " + ", ".join(heard) + ".",
        )
    return asked


def check_format(path: Path) -> None:
    """Raises :class:`OperatorError` for a file name that no plot can be written to."""
    if path.suffix.lower() not in FORMATS:
        raise OperatorError(
            "unknown-format",
            "The plot is written as SVG or PNG.",
            where=str(path),
            remedy="Give the file a name that ends in .svg or .png.",
        )


def draw(trace: Trace, scale: str, path: Path) -> None:
    """Write the plot. Raises :class:`OperatorError` where that cannot be done."""
    from weighd.reports.timeline import figure

    write_plot(figure(trace, scale), path, "-o")


def write_plot(drawn: Any, path: Path, option: str) -> None:
    """Write a figure of the reports to the file that ``option`` named.

    Raises :class:`OperatorError` where it cannot be written.
    """
    from weighd.reports.timeline import write

    try:
        write(drawn, path)
    except OSError as error:
        raise OperatorError(
            "cannot-write",
            f"The plot cannot be written: {error.strerror or error}.",
            where=str(path),
            remedy=f"Name another file with {option}.",
        ) from error


def _object(text: str) -> Any:
    try:
        return json.loads(text)
    except (ValueError, RecursionError):
        return None
