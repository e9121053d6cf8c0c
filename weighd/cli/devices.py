"""``weighd pair`` and ``weighd devices``: other devices are let in, listed and forgotten."""

from __future__ import annotations

import json
import sys
from pathlib import Path

import typer

from weighd.domain.devices import Device, May
from weighd.domain.errors import JournalError

_CONFIG = typer.Option(None, "--config", help="The configuration file.")
_URL = typer.Option("", "--url", help="Where the station is; as configured otherwise.")
_MAY = {
    May.LOOK: "only looks",
    May.WORK: "works",
    May.ALL: "stands in for the station's own computer",
}


def add_to(app: typer.Typer) -> None:
    """Add the commands."""

    @app.command()
    def pair(
        name: str = typer.Argument(help="What the device is called, like: tablet at the bench."),
        may: str = typer.Option(
            "work",
            "--may",
            metavar="WHAT",
            help="look: it changes nothing; work: it weighs; all: what the station itself may.",
        ),
        url: str = _URL,
        config: Path | None = _CONFIG,
    ) -> None:
        """Show a code that lets one other device in: typed at it once, within five minutes.

        The station runs, and has a door for other devices (section elsewhere of weighd.toml). Where
        people are listed, it takes the PIN of somebody who may look after people.
        """
        from weighd.cli.reach import station_at
        from weighd.domain.devices import may_of

        told = station_at(url, config).post("devices", name=name, may=str(may_of(may)))
        code = str(told["code"])
        print(f"{code[:4]} {code[4:]}", flush=True)
        where = " or ".join(map(str, told["at"]))
        print(f"Open {where} on the device and type this code.", file=sys.stderr)
        minutes = round(int(told["good_s"]) / 60)
        print(f"It is good once, for {minutes} minutes.", file=sys.stderr)

    devices = typer.Typer(help="Devices that were let in: list them, forget one.")
    app.add_typer(devices, name="devices")

    @devices.callback(invoke_without_command=True)
    def list_(
        context: typer.Context,
        as_json: bool = typer.Option(False, "--json", help="For programs."),
        config: Path | None = _CONFIG,
    ) -> None:
        """List the other devices that were let in, what each may, and when it was last seen."""
        if context.invoked_subcommand is not None:
            return
        from weighd.main.device_files import devices_of

        found = devices_of(config)
        if as_json:
            print(json.dumps([_drawn(one) for one in found], indent=1, ensure_ascii=False))
            return
        for one in found:
            print(f"{one.name}: {_MAY[one.may]}; since {one.since[:10]}, seen {one.seen[:10]}.")
        if not found:
            print("No device was let in: the page can be opened on this computer only.")

    @devices.command()
    def forget(
        name: str = typer.Argument("", help="What the device is called."),
        every: bool = typer.Option(False, "--all", help="Forget every device."),
        url: str = _URL,
        config: Path | None = _CONFIG,
    ) -> None:
        """Forget a device: it is out at once, with every page that is open at it.

        A station that runs is told; else it is written into the record's file.
        """
        from weighd.cli.reach import station_at
        from weighd.main.device_files import devices_of, forget_device

        if bool(name) is every:
            raise typer.BadParameter("name one device, or say --all")
        for called in [one.name for one in devices_of(config)] if every else [name]:
            try:
                print(f"Forgotten: {forget_device(config, called).name}.")
            except JournalError as error:
                if error.code != "store-in-use":
                    raise
                station_at(url, config).post("devices", called, "forget")
                print(f"Forgotten: {called}.")


def _drawn(one: Device) -> dict[str, str]:
    return {
        "id": one.id,
        "name": one.name,
        "may": str(one.may),
        "since": one.since,
        "seen": one.seen,
    }
