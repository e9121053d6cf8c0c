"""A station's side of the floor: what it tells, what it watches, and the thread for both."""

from __future__ import annotations

import asyncio
import contextlib
import importlib.util
import secrets
import threading
from collections.abc import Callable

import structlog

from weighd.clock import SystemClock
from weighd.config import Config
from weighd.domain.errors import ConfigError
from weighd.http.live import Live
from weighd.mqtt.publisher import Publisher
from weighd.mqtt.running import Running
from weighd.mqtt.teller import Teller
from weighd.mqtt.watcher import Watcher
from weighd.station.floor import CLASH_S, Floor
from weighd.station.floor_broker import Broker, read_address
from weighd.station.floor_picture import FloorPicture
from weighd.station.picture import Picture

log = structlog.get_logger("weighd")
#: Pages are told of the floor no more often than this.
PACE_S = 0.1

Tell = Callable[[str, str, str], None]


def need_extra() -> None:
    """Raises :class:`ConfigError`, ``needs-extra``, where the extra ``floor`` is not installed."""
    if importlib.util.find_spec("aiomqtt") is None:
        raise ConfigError(
            "needs-extra",
            "A broker is named, but aiomqtt, which speaks with it, is not installed.",
            remedy="Install it (pip install 'weighd[floor]'), or leave the broker out.",
        )


def with_broker(config: Config, address: str | None) -> Config:
    """The configuration with the broker that the command line names. Raises ConfigError."""
    if address is None:
        return config
    try:
        read_address(address)
    except ValueError as error:
        raise ConfigError("bad-address", f"--broker {error}.") from None
    return config.model_copy(update={"floor": config.floor.model_copy(update={"broker": address})})


def broker_of(config: Config) -> Broker | None:
    """The configured broker. Raises :class:`ConfigError` where the extra is missing."""
    broker = config.floor.as_broker(config.place)
    if broker is not None:
        need_extra()
    return broker


class FloorSide:
    """Publisher, watcher and what pages are shown of the floor.

    ``live``  the websocket of pages that watch; ``None`` for a station that only tells.
    """

    def __init__(
        self,
        config: Config,
        broker: Broker,
        picture: Picture,
        clock: SystemClock,
        *,
        version: str,
    ) -> None:
        self._broker = broker
        self._loop: asyncio.AbstractEventLoop | None = None
        self._tell: Tell | None = None
        self._clock = clock
        self._clashed = float("-inf")
        self._troubles: dict[str, str] = {}
        self._tasks: list[asyncio.Task[None]] = []
        self._waiting = False
        self.teller: Teller | None = None
        self.live: Live | None = None
        self.picture: FloorPicture | None = None
        publisher = watcher = None
        if config.floor.publish:
            publisher = Publisher(
                broker,
                config.station.name,
                version=version,
                instance=secrets.token_hex(8),
                began=clock.utc(),
                utc=clock.utc,
                trouble=lambda why: self._note("told", why),
                clash=self._clash,
            )
            self.teller = Teller(picture, publisher, names=config.floor.names)
        if config.floor.watch:
            guard, floor = threading.Lock(), Floor(broker.top)
            self.picture = FloorPicture(floor, guard, boot=picture.boot, utc=clock.utc)
            self.live = Live(self.picture, timed=True)
            watcher = Watcher(
                broker,
                floor,
                clock,
                guard=guard,
                changed=self._changed,
                trouble=lambda why: self._note("watched", why),
            )
        self._running = Running(publisher, watcher)

    def start(self, audience: Live, tell: Tell) -> None:
        """Begin, in the event loop. ``tell`` puts up a notice at the station, from any thread."""
        self._loop, self._tell = asyncio.get_running_loop(), tell
        if self.teller is not None:
            audience.also.append(self.teller.changed)
            self._tasks.append(asyncio.create_task(self.teller.run()))
        self._running.start()

    async def stop(self) -> None:
        """Say that the station was stopped, and end."""
        for task in self._tasks:
            task.cancel()
        await asyncio.gather(*self._tasks, return_exceptions=True)
        if self._loop is None:
            return
        if self.teller is not None:
            self.teller.stopped()
        await asyncio.to_thread(self._running.stop)

    # --- from the floor's thread --------------------------------------------------------------

    def _later(self, call: Callable[[], None]) -> None:
        if self._loop is not None:
            with contextlib.suppress(RuntimeError):  # the station has ended meanwhile
                self._loop.call_soon_threadsafe(call)

    def _changed(self) -> None:
        if not self._waiting:
            self._waiting = True
            self._later(self._soon)

    def _soon(self) -> None:
        assert self._loop is not None
        self._loop.call_later(PACE_S, self._show)

    def _show(self) -> None:
        self._waiting = False
        if self.live is not None:
            self.live.changed()

    def _note(self, what: str, why: str) -> None:
        """Trouble is logged when it begins, changes and ends, not at every try."""
        before = self._troubles.get(what)
        if why == (before or ""):
            return
        self._troubles[what] = why
        if why:
            log.warning("no floor", what=what, why=why)
        else:
            log.info("floor", what=what, broker=str(self._broker))

    def _clash(self, *, gives_way: bool) -> None:
        now = self._clock.now()
        known, self._clashed = now - self._clashed < CLASH_S, now
        if known:
            return
        log.warning("another station of this name", gives_way=gives_way)
        code = "name-taken-on-floor" if gives_way else "name-shared-on-floor"
        if self._tell is not None:
            self._tell("warn", code, "")


def open_floor(
    config: Config, picture: Picture, clock: SystemClock, version: str
) -> FloorSide | None:
    """The station's side of the floor; ``None`` where no broker is configured.

    Raises :class:`ConfigError`.
    """
    broker = broker_of(config)
    if broker is None:
        return None
    picture.has_floor = config.floor.watch
    return FloorSide(config, broker, picture, clock, version=version)
