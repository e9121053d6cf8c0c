"""``weighd floor``: what all stations do now."""

from __future__ import annotations

import json
import sys
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import typer


def add_to(app: typer.Typer) -> None:
    """Add the command."""

    @app.command()
    def floor(
        config: Path | None = typer.Option(None, "--config", help="The configuration file."),
        broker: str | None = typer.Option(
            None, "--broker", help="The broker, mqtt://HOST:PORT, if not the configured one."
        ),
        watch: bool = typer.Option(
            False, "--watch", help="Go on, with a line for each change, until Ctrl-C."
        ),
        as_json: bool = typer.Option(
            False, "--json", help="As JSON; with --watch an object a line."
        ),
        forget: str | None = typer.Option(
            None, "--forget", help="Have the broker forget a station that is no more."
        ),
    ) -> None:
        """List all stations and what each does now, as they say it on the broker.

        It asks the broker itself, no station. It is a view and never a record: what a station did
        last may be old, and then it says so.
        """
        from weighd.config import load
        from weighd.domain.errors import ConfigError
        from weighd.main.floor import broker_of, with_broker
        from weighd.main.watching import follow, forget_station, look
        from weighd.station.floor_words import ranked

        where = broker_of(with_broker(load(config), broker))
        if where is None:
            raise ConfigError(
                "no-floor",
                "No broker is configured.",
                remedy="Name one in weighd.toml, under [floor], or with --broker.",
            )
        if forget is not None:
            forget_station(where, forget)
            print(f"The broker has forgotten {forget}.")
        elif watch:
            follow(where, _json_line if as_json else _say_changes)
        else:
            cards, utc = look(where)
            if as_json:
                print(json.dumps({"now": utc, "stations": cards}, indent=1, ensure_ascii=False))
                return
            for card in ranked(cards, utc):
                _say(card, utc)
            if not cards:
                print("No station was heard.")


def _say(card: Mapping[str, Any], utc: str) -> None:
    from weighd.station.floor_words import lines

    first, *more = lines(card, utc)
    name = _plain(card["name"])
    print(f"{name}  {_plain(first)}")
    for one in more:
        print(f"{' ' * len(name)}  {_plain(one)}")


def _say_changes(link: dict[str, Any], cards: dict[str, Any], utc: str) -> None:
    if link:
        said = "listening" if link["connected"] else f"no connection: {_plain(link['why'])}"
        print(f"{utc[11:19]}  {said}", file=sys.stderr, flush=True)
    for name, card in sorted(cards.items()):
        from weighd.station.floor_words import lines

        said = "; ".join(lines(card, utc)) if card is not None else "forgotten"
        print(f"{utc[11:19]}  {_plain(name)}  {_plain(said)}", flush=True)


def _json_line(link: dict[str, Any], cards: dict[str, Any], utc: str) -> None:
    said = {"now": utc, **({"floor": link} if link else {}), "stations": cards}
    print(json.dumps(said, ensure_ascii=False), flush=True)


def _plain(text: str) -> str:
    """A text from the network for a terminal: nothing that moves the cursor."""
    return "".join(one if one.isprintable() else "\N{REPLACEMENT CHARACTER}" for one in text)
