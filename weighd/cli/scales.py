"""``weighd scales``: what is plugged in, and what each says."""

from __future__ import annotations

import threading
import time
from collections import deque
from collections.abc import Iterator

import typer

from weighd.domain import mass
from weighd.domain.errors import ScaleError, WeighdError
from weighd.domain.reading import Reading
from weighd.station.ports import Bytes, Discovered, Driver, Found, Lost, Signal

#: Drivers of real devices; the others have nothing to discover.
_RAW_SHOWN = 48


def add_to(app: typer.Typer) -> None:
    """Add the command."""

    @app.command()
    def scales(
        listen: float = typer.Option(
            2.0, "--listen", min=0, max=60, help="Seconds to listen to each; 0 to only list."
        ),
        baud: int = typer.Option(9600, "--baud", help="Baud rate to listen to serial ports at."),
    ) -> None:
        """List serial ports and USB scales, show what each one says, and how to configure it."""
        from weighd.main.drivers import driver_points, load_driver

        number = 0
        for name in sorted(driver_points()):
            try:
                driver = load_driver(name)
                found = list(driver.discover())
            except WeighdError as error:
                print(f"{name}: {error}")
                continue
            for one in found:
                number += 1
                for line in _about(driver, one, number, listen, baud):
                    print(line, flush=True)
        if not number:
            print("No serial port and no USB scale is plugged in.")


def _about(driver: Driver, one: Discovered, number: int, listen: float, baud: int) -> Iterator[str]:
    yield f"{one.where}: {one.what}"
    settings = dict(one.settings)
    if one.driver == "serial":
        settings["baud"] = baud
    if listen > 0:
        yield from (f"    {line}" for line in _listen(driver, settings, listen))
    yield "    to use it:"
    yield f"        [scales.bench{number if number > 1 else ''}]"
    yield f'        driver = "{one.driver}"'
    for key, value in settings.items():
        yield f"        {key} = {_toml(value)}"
    yield ""


def _toml(value: object) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, int | float):
        return str(value)
    text = str(value).replace("\\", "\\\\").replace('"', '\\"')
    return f'"{text}"'


def _listen(driver: Driver, settings: dict[str, object], seconds: float) -> list[str]:
    """What a device says in a few seconds, in words."""
    heard: deque[Signal] = deque()
    stop = threading.Event()
    start = time.monotonic()
    try:
        checked = driver.check(settings)
        source, decoder = driver.source(checked), driver.decoder(checked)
    except (ValueError, ScaleError) as error:
        return [f"cannot be opened: {error}"]
    thread = threading.Thread(
        target=source.run, args=(heard.append, stop, lambda: time.monotonic() - start), daemon=True
    )
    thread.start()
    thread.join(seconds)
    stop.set()
    thread.join(2.0)
    raw, last, count = b"", None, 0
    out: list[str] = []
    for signal in heard:
        match signal:
            case Bytes(t, data):
                raw += data
                for reading in decoder.feed(t, data):
                    last, count = reading, count + 1
            case Lost(_, why):
                out.append(why)
            case Found(_, what, facts):
                told = ", ".join(f"{key} {value}" for key, value in facts.items())
                out.append(f"open: {what}" + (f" ({told})" if told else ""))
    if last is not None:
        out.append(f"{count} readings in {seconds:g} s; the last: {_in_words(last)}")
        shape = decoder.spec.get("shape")
        if isinstance(shape, str):
            out.append(f"wire shape: {shape}")
    elif raw:
        out.append(
            f"{len(raw)} bytes that fit no known shape, like {raw[-_RAW_SHOWN:]!r}: "
            "another baud rate or parity may be wanted"
        )
    elif not any(isinstance(one, Lost) for one in heard):
        out.append("said nothing; it may answer only when asked (set request), or be asleep")
    return list(dict.fromkeys(out))


def _in_words(reading: Reading) -> str:
    if reading.grams is None:
        return "over capacity" if reading.over else reading.fault or "no number"
    stable = {True: ", stable", False: ", moving", None: ""}[reading.stable]
    return f"{mass.text(reading.shown or reading.grams)} {reading.unit or 'g'}{stable}"
