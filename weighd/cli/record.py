"""``weighd record``: a session of a configured scale, to a file."""

from __future__ import annotations

import sys
import threading
from pathlib import Path

import typer


def add_to(app: typer.Typer) -> None:
    """Add the command."""

    @app.command()
    def record(
        scale: str = typer.Argument(help="The name of a configured scale."),
        file: Path = typer.Argument(help="The session to write; it must not exist yet."),
        config: Path | None = typer.Option(None, "--config", help="The configuration file."),
        seconds: float = typer.Option(0, "--for", min=0, help="Stop after so many seconds."),
        most_mb: float = typer.Option(500.0, "--mb", min=0.01, help="Stop at so many MB."),
        note: str = typer.Option("", "--note", help="What is done on the scale, for the header."),
    ) -> None:
        """Record what a scale sends until Ctrl-C; `weighd decode` and `replay` read it.

        Only bytes and the coming and going of the scale are recorded. To record the commands of
        a batch too, run `weighd serve --record FILE`.
        """
        from weighd.clock import SystemClock
        from weighd.config import load
        from weighd.main.listening import plugged_scale, run_source
        from weighd.station.inputs import ClockSet, Heard, LinkFound, LinkLost
        from weighd.station.ports import Bytes, Found, Lost, Signal
        from weighd.station.session import Header
        from weighd.storage.session_file import SessionFile

        settings = load(config)
        one = plugged_scale(settings, scale)
        clock, count = SystemClock(), 0
        stop = threading.Event()
        session = SessionFile(
            file,
            Header({scale: one.settings}, note, settings.station.name),
            int(most_mb * 1_000_000),
            ended=lambda _path, _why: stop.set(),
        )
        session.write(ClockSet(clock.now(), clock.utc()))

        def deliver(sent: Signal) -> None:
            nonlocal count
            match sent:
                case Bytes(t, data):
                    count += len(data)
                    session.write(Heard(t, scale, data))
                case Lost(t, why):
                    print(why, file=sys.stderr)
                    session.write(LinkLost(t, scale, why))
                case Found(t, what, facts):
                    print(what, file=sys.stderr)
                    session.write(LinkFound(t, scale, what, facts))

        run_source(one.source, deliver, clock.now, seconds, stop)
        session.close()
        if session.failed:
            print(f"the recording stopped short: {session.failed}", file=sys.stderr)
        print(f"{file}: {count} bytes in {clock.now():.1f} s")
