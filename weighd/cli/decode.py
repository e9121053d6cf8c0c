"""``weighd decode``: bytes of a scale in, a line a reading out."""

from __future__ import annotations

import json
import os
import sys
import time
from collections.abc import Iterable, Iterator, Mapping
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
        if session is None:
            _pump(_decoder(shape, {"driver": "serial"}, patient=True), _stdin())
            return
        for name, (settings, chunks) in _of_session(session).items():
            if scale in (None, name):
                _pump(_decoder(shape, settings), chunks)


def _decoder(shape: str | None, settings: Mapping[str, Any], *, patient: bool = False) -> Decoder:
    """By the shape asked for, else as the scale was configured; lines are told of one by one."""
    from weighd.main.drivers import session_decoder
    from weighd_drivers.auto import decoder_for

    if shape is not None:
        return decoder_for(shape, on_reject=_tell)
    if settings["driver"] != "serial":
        return session_decoder(settings)
    unit = mass.Unit(settings["unit"]) if settings.get("unit") else None
    return decoder_for(settings.get("shape"), unit=unit, patient=patient, on_reject=_tell)


def _stdin() -> Iterator[tuple[float, bytes]]:
    start = time.monotonic()
    while chunk := os.read(sys.stdin.fileno(), CHUNK):
        yield time.monotonic() - start, chunk


def _of_session(path: Path) -> dict[str, tuple[Mapping[str, Any], list[tuple[float, bytes]]]]:
    from weighd.station.inputs import Heard
    from weighd.station.session import read
    from weighd.storage.session_file import session_lines

    header, inputs = read(session_lines(path), str(path))
    out: dict[str, tuple[Mapping[str, Any], list[tuple[float, bytes]]]] = {
        name: (settings, []) for name, settings in header.scales.items()
    }
    for event in inputs:
        if isinstance(event, Heard):
            out[event.scale][1].append((event.t, event.data))
    return out


def _pump(decoder: Decoder, chunks: Iterable[tuple[float, bytes]]) -> None:
    for t, data in chunks:
        _print(decoder.feed(t, data))
    end = getattr(decoder, "end", None)
    if end is not None:  # a shape that is worked out is chosen from what there was
        _print(end())
    elif decoder.rejected:
        print(f"{decoder.rejected} not read; the last: {decoder.last_rejected!r}", file=sys.stderr)


def _print(readings: Iterable[Reading]) -> None:
    for reading in readings:
        print(json.dumps(as_line(reading)), flush=True)


def _tell(offset: int, data: bytes, why: str) -> None:
    print(f"byte {offset}: {why}: {data!r}", file=sys.stderr, flush=True)


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
