"""``weighd recover``: ways to put a pour right that went wrong."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

import typer

from weighd.cli import places

if TYPE_CHECKING:
    from weighd.cli.reach import Reached
    from weighd.storage.address import Place


def add_to(app: typer.Typer) -> None:
    """Add the command."""

    @app.command()
    def recover(
        batch: str = typer.Argument(
            help="A batch, like kitchen-0007, or a file: an export or a recorded session."
        ),
        cause: str = typer.Option(
            "", "--cause", help="over, ran out or wrong ingredient; as it stands otherwise."
        ),
        was: str = typer.Option("", "--was", help="The id of a wrong ingredient."),
        dry: str = typer.Option("", "--dry", help="yes or no: whether it can be taken out."),
        net_g: str = typer.Option(
            "", "--net-g", help="How much of the pour is in, where no scale says so."
        ),
        holds_g: str = typer.Option("", "--bowl-holds-g", help="The most that the bowl takes."),
        on_hand: list[str] = typer.Option(
            [], "--on-hand", help="What is left of an ingredient, like sucrose:120; repeatable."
        ),
        add: list[str] = typer.Option(
            [], "--add", help="What may be put in besides, by its id; repeatable."
        ),
        at: str = typer.Option("", "--at", help="The temperature it is eaten at; -12."),
        kind: str = typer.Option("", "--class", help="Hold it to the limits of this class."),
        until: float | None = typer.Option(
            None, "--until", help="Of a session: as it stands at this second of it."
        ),
        text: bool = typer.Option(False, "--text", help="For people, instead of JSON."),
        url: str = typer.Option("", "--url", help="Where the station is; as configured otherwise."),
        config: Path | None = typer.Option(None, "--config", help="The configuration file."),
        database: str | None = places.database("A database to look into, instead of a station."),
    ) -> None:
        """Work out what can be done about too much, too little or the wrong thing in the bowl.

        Every way comes with what is then to be weighed, what the batch becomes, what that does to
        the mix, and why it stands where it does; ways that do not go say why. Nothing is changed:
        one is chosen on the page, or by the command "put right" over REST.
        """
        from weighd.station.recovering import Query
        from weighd.station.recovering_words import tell

        query = Query(cause, was, net_g, dry, holds_g, ",".join(on_hand), ",".join(add), at, kind)
        drawn = _drawn(batch, query, until, url, config, database)
        if text:
            for line in tell(drawn):
                print(line)
        else:
            print(json.dumps(drawn, indent=2, ensure_ascii=False))


def _drawn(
    batch: str,
    query: Any,
    until: float | None,
    url: str,
    config: Path | None,
    database: Place | None,
) -> Any:
    from weighd.cli.reach import station_at
    from weighd.domain.errors import OperatorError
    from weighd.main import recovering

    file = Path(batch)
    if file.is_file():
        return recovering.of_file(file, query, until, None)
    if database is not None:
        return recovering.of_database(batch, query, config, database)
    try:
        return _asked(batch, query, station_at(url, config))
    except OperatorError as error:
        if error.code != "no-station" or url:
            raise
    return recovering.of_database(batch, query, config, None)


def _asked(batch: str, query: Any, station: Reached) -> Any:
    names = {"holds_g": "bowl_holds_g"}
    given = "&".join(
        f"{names.get(key, key)}={value}"
        for key in ("cause", "was", "dry", "holds_g", "on_hand", "add", "at", "kind")
        if (value := getattr(query, key).replace("&", " "))
    )
    return station.get("batches", batch, f"recovery?{given}")
