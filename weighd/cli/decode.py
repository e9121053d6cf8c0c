"""``weighd decode``: bytes of a scale in, a line a reading out."""

from __future__ import annotations

import json
import os
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import typer

from weighd.domain import mass
from weighd.domain.reading import Reading
from weighd.station.ports import Decoder

CHUNK = 65536


def add_to(app: typer.Typer) -> None:
    """Add the command."""

    @app.command()
    def decode(
        session: Path | None = typer.Argument(
            None, help="A recorded session; raw bytes are read from standard input without one."
        ),
        shape: str | None = typer.Option(
            None,
            "--shape",
            help="A wire shape by name or file; worked out from the bytes without it.",
        ),
        scale: str | None = typer.Option(None, "--scale", help="Only this scale of the session."),
    ) -> None:
        """Decode what a scale sends: a JSON line for each reading.

        What could not be read goes to standard error with its place among the bytes.
        """
        from weighd_drivers.auto import decoder_for

        if session is None:
            _pump(decoder_for(shape), _stdin())
            return
        for name, chunks in _of_session(session).items():
            if scale in (None, name):
                _pump(decoder_for(shape), chunks)


def _stdin() -> Iterator[tuple[float, bytes]]:
    start = time.monotonic()
    while chunk := os.read(sys.stdin.fileno(), CHUNK):
        yield time.monotonic() - start, chunk


def _of_session(path: Path) -> dict[str, list[tuple[float, bytes]]]:
    from weighd.station.inputs import Heard
    from weighd.station.session import read
    from weighd.storage.session_file import session_lines

    header, inputs = read(session_lines(path), str(path))
    out: dict[str, list[tuple[float, bytes]]] = {name: [] for name in header.scales}
    for event in inputs:
        if isinstance(event, Heard):
            out[event.scale].append((event.t, event.data))
    return out


def _pump(decoder: Decoder, chunks: Iterator[tuple[float, bytes]] | Any) -> None:
    offset = 0
    for t, data in chunks:
        before = decoder.rejected
        for reading in decoder.feed(t, data):
            print(json.dumps(as_line(reading)), flush=True)
        offset += len(data)
        if decoder.rejected > before:
            print(
                f"{decoder.rejected - before} not read, up to byte {offset}: "
                f"{decoder.last_rejected!r}",
                file=sys.stderr,
            )


def as_line(reading: Reading) -> dict[str, Any]:
    """A reading as a line of output."""
    return {
        "t": round(reading.t, 6),
        "grams": None if reading.grams is None else mass.text(reading.grams),
        "unit": reading.unit,
        "stable": reading.stable,
        "over": reading.over,
        "raw": reading.raw.hex(),
    }
