"""Watching the floor from a terminal, without a station of one's own."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from typing import Any

from weighd.clock import SystemClock
from weighd.domain.errors import OperatorError
from weighd.mqtt.link import LinkError
from weighd.mqtt.watcher import Watcher, forget
from weighd.station.floor import Floor, Standing
from weighd.station.floor_broker import Broker

#: Seconds for a broker to answer, for what it kept to come, and for all stations to be heard.
ANSWER_S, KEPT_S, HEARD_S = 10.0, 0.6, 7.0


def look(broker: Broker) -> tuple[dict[str, Any], str]:
    """What all stations do now, by name, and the time of our clock.

    Raises :class:`OperatorError`, ``no-broker``, where none answers.
    """
    return asyncio.run(_look(broker))


async def _look(broker: Broker) -> tuple[dict[str, Any], str]:
    clock, floor = SystemClock(), Floor(broker.top)
    listening = asyncio.create_task(Watcher(broker, floor, clock).run())
    try:
        while not floor.link:
            if clock.now() > ANSWER_S or floor.why:
                raise no_broker(floor.why or f"{broker}: no answer")
            await asyncio.sleep(0.02)
        began = clock.now()
        while clock.now() - began < HEARD_S:
            await asyncio.sleep(0.05)
            unheard = Standing.UNCONFIRMED in (one["standing"] for one in floor.cards().values())
            if clock.now() - began > KEPT_S and not unheard:
                break
        return floor.cards(), clock.utc()
    finally:
        listening.cancel()
        await asyncio.gather(listening, return_exceptions=True)


def follow(broker: Broker, show: Callable[[dict[str, Any], dict[str, Any], str], None]) -> None:
    """Show every change until interrupted: the connection, the stations that changed, our time."""

    async def until_interrupted() -> None:
        clock, floor, seen = SystemClock(), Floor(broker.top), -1

        def changed() -> None:
            nonlocal seen
            link, cards = floor.of_link(seen) or {}, floor.cards(seen)
            seen = floor.changed
            show(link, cards, clock.utc())

        await Watcher(broker, floor, clock, changed=changed).run()

    try:
        asyncio.run(until_interrupted())
    except KeyboardInterrupt:
        return


def forget_station(broker: Broker, station: str) -> None:
    """Take what is kept of a station off the broker.

    Raises :class:`OperatorError`: ``unknown-station``, ``station-here`` or ``no-broker``.
    """
    cards, _ = look(broker)
    card = cards.get(station)
    if card is None:
        known = ", ".join(sorted(cards)) or "none"
        raise OperatorError(
            "unknown-station",
            f'The broker knows no station "{station}".',
            remedy=f"It knows: {known}.",
        )
    if card["standing"] == Standing.HERE:
        raise OperatorError(
            "station-here",
            f'Station "{station}" is there, and would say everything again.',
            remedy="Stop it first.",
        )
    try:
        asyncio.run(forget(broker, station))
    except LinkError as error:
        raise no_broker(str(error)) from error


def no_broker(why: str) -> OperatorError:
    """What to raise where no broker answers."""
    return OperatorError(
        "no-broker",
        f"The broker cannot be reached: {why}.",
        remedy="See that it runs, and that address, user and password_file are right.",
    )
