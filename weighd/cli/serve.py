"""``weighd serve``: the station with its page."""

from __future__ import annotations

import faulthandler
import sys
from pathlib import Path

import typer

from weighd.main import garbage

#: What a recording may come to; as ``weighd.main.recording`` has it, which is not loaded for help.
RECORD_MB = typer.Option(
    500.0,
    "--record-mb",
    min=0.01,
    help="What is recorded may come to so many MB; the oldest goes for the newest.",
)


def add_to(app: typer.Typer) -> None:
    """Add the command."""

    @app.command()
    def serve(
        config: Path | None = typer.Option(None, "--config", help="The configuration file."),
        host: str | None = typer.Option(
            None, "--host", help="Listen on this address of this computer."
        ),
        port: int | None = typer.Option(None, "--port", help="Listen on this port; 0 for any."),
        data: Path | None = typer.Option(None, "--data", help="Folder that holds the record."),
        broker: str | None = typer.Option(
            None, "--broker", help="Tell and watch the floor there: mqtt://HOST:PORT."
        ),
        record: Path | None = typer.Option(
            None,
            "--record",
            help="Record the session (bytes, commands, times) to this file, then FILE-2 and so on.",
        ),
        record_mb: float = RECORD_MB,
        store: str | None = typer.Option(
            None,
            "--store",
            metavar="ADDRESS",
            help="Send the record to this shared store: postgresql://USER@HOST:PORT/DATABASE.",
        ),
    ) -> None:
        """Run the station: read the scales, judge additions, keep the record, show the page.

        The configuration is --config, or weighd.toml here, in $XDG_CONFIG_HOME/weighd or in
        /etc/weighd. Without one, the page it prints sets everything up.
        """
        garbage.wait()
        from weighd.config import Config, load
        from weighd.domain.errors import WeighdError
        from weighd.main import logs
        from weighd.main.daemon import log
        from weighd.main.floor import with_broker
        from weighd.main.listening_at import listen
        from weighd.main.recording import Recording
        from weighd.main.said import with_port
        from weighd.main.second_door import second_door
        from weighd.main.sending import with_store
        from weighd.main.serving import serve as serve_on
        from weighd.main.supervisor import PAGE, Supervisor

        garbage.begin()

        def configured() -> Config:
            settings = with_store(with_port(load(config), host, port, data), store)
            return with_broker(settings, broker)

        supervisor = Supervisor()
        try:
            settings = configured()
            logs.set_up(settings.log.level, settings.log.format)
            if supervisor.there:
                faulthandler.enable()  # one that is ended because it hangs says where
            http = settings.http
            at = (http.host, http.port)
            sock = supervisor.handed(PAGE, *at) or listen(*at)
        except WeighdError as error:
            supervisor.status(str(error))
            raise
        supervisor.keep(PAGE, sock, *at)
        second = None

        def ready(settings: Config) -> None:
            address = url(settings.http.host, sock.getsockname()[1])
            supervisor.ready()
            log.info("ready", address=address, station=settings.station.name)
            if supervisor.there:  # what it says is a log, and nobody reads along
                return
            print(f"weighd is at {address}", flush=True)
            if second is not None:
                print(f"Other devices open {' or '.join(second.addresses)}", file=sys.stderr)
            if not settings.scales:
                print("No scale is set up yet: open that page, it shows the way.", file=sys.stderr)

        try:
            second = second_door(settings, supervisor)
            recording = None if record is None else Recording(record, record_mb)
            serve_on(sock, configured, recording, ready, supervisor, second)
        except WeighdError as error:
            supervisor.status(str(error))
            raise
        finally:
            sock.close()
            if second is not None:
                second.close()


def url(host: str, port: int) -> str:
    """The address a person opens."""
    shown = {"0.0.0.0": "127.0.0.1", "::": "[::1]"}.get(host, host)  # noqa: S104 - not a bind
    if ":" in shown and not shown.startswith("["):
        shown = f"[{shown}]"
    return f"http://{shown}:{port}/"
