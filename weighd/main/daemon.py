"""The daemon: one station with its scales, its journal and its page, from start to stop."""

from __future__ import annotations

import asyncio
import secrets
import signal
import socket
import threading
from collections.abc import Callable
from functools import partial
from importlib.resources import files
from typing import Any

import structlog

from weighd import __version__
from weighd.clock import SystemClock
from weighd.config import Config
from weighd.domain import mass
from weighd.domain.errors import WeighdError
from weighd.domain.signing import short
from weighd.http.app import create_app
from weighd.http.door import AtSecondDoor, Elsewhere
from weighd.http.live import Live
from weighd.http.ports import (
    FirstFormulas,
    FirstStart,
    HttpSettings,
    Pantry,
    Revisions,
    Shelf,
    Simulation,
)
from weighd.main.archiving_daily import daily_archives
from weighd.main.crowd import make_room
from weighd.main.daily_heads import daily_heads
from weighd.main.floor import open_floor
from weighd.main.heap import keep_together
from weighd.main.keeping import note_other_key
from weighd.main.outputs import RecordOutputs
from weighd.main.plugging import Plugged, knowing
from weighd.main.receiving import open_receiver
from weighd.main.recording import Recording
from weighd.main.second_door import SecondDoor, theirs
from weighd.main.sending import open_sender
from weighd.main.shipped import read_shipped_table
from weighd.main.start_kept import StartKept
from weighd.main.watch import Rounds, Watch
from weighd.main.web_server import web_server
from weighd.solver.beside import Beside
from weighd.station import check_history
from weighd.station.clock_doubt import doubt
from weighd.station.devices import Devices
from weighd.station.keeping import Keeper
from weighd.station.people import People
from weighd.station.picture import Picture
from weighd.station.ports import Lost, Signal
from weighd.station.runner import Runner
from weighd.station.session import Header
from weighd.station.station import Station
from weighd.station.vessel_shelf import Kept
from weighd.storage.journal import open_journal
from weighd.storage.keys import KEY_FILE, station_key
from weighd.storage.pins import Argon2Pins
from weighd.storage.putting_away import put_away_in
from weighd.storage.session_file import SessionFile

log = structlog.get_logger("weighd")
DATABASE = "weighd.db"
#: Whoever asked for a new beginning is answered first, seconds.
ANSWERED_S = 0.2
#: A stop keeps what the next start needs where so many entries were added: fewer are read as fast.
AT_A_STOP = 100
#: The reader threads are given this long, together, to let go of their devices.
JOIN_S = 2.0


class Daemon:
    """A station that runs. ``start`` to ``stop`` once; ``journal`` is held from construction on.

    Raises, when made, what opening its parts raises: :class:`ConfigError`,
    :class:`JournalError`, :class:`SessionError`.
    """

    def __init__(
        self,
        config: Config,
        plugged: list[Plugged],
        shelf: Shelf,
        *,
        clock: SystemClock | None = None,
        simulation: bool = False,
        record: Recording | None = None,
        pantry: Pantry | None = None,
        revisions: Revisions | None = None,
    ) -> None:
        keep_together()
        name, rule = config.station.name, config.judging.as_rule()
        self.config = config
        self.shelf, self.pantry, self.revisions = shelf, pantry, revisions
        self.clock = clock or SystemClock()
        database = config.place(config.station.data) / DATABASE
        self.journal = open_journal(database, name)
        if self.journal.copied is not None:
            log.warning("the record was brought up to date", as_it_was=str(self.journal.copied))
        try:
            self.journal.signer = key = station_key(database.with_name(KEY_FILE))
            before = self.journal.latest_key()
            if before not in (None, key.key):
                note_other_key(self.journal, before, key.key, self.clock)
            learned, history = self.journal.learned(), self.journal.open_batch()
            asked = {one.setup.name for one in plugged if one.setup.check is not None}
            self._start = StartKept(self.journal, database.parent, key)
            begun = self._start.begin(asked | check_history.asked_by(history))
            tail, made, past, lots = begun.tail, begun.made, begun.past, begun.book
            plugged = knowing(plugged, learned.all())
            book = self.journal.vessels()
            vessels = [*book.all(), *(Kept(one, configured=True) for one in config.known_vessels())]
            receiver = open_receiver(config, self.journal, self.clock, lots)
            self._keeper = Keeper(learned, {one.setup.name: one.identity for one in plugged})
            wall = self.journal.wall()
            self.station = Station(
                name,
                [one.setup for one in plugged],
                tail=tail,
                history=history,
                made=made,
                rule=rule,
                version=__version__,
                past=past,
                vessels=vessels,
                lots=lots,
                shared=receiver.shared if receiver else None,
                wall=wall,
            )
            if wrong := doubt(self.clock.utc(), wall.newest):
                log.warning("the clock of this computer cannot be right", why=wrong)
            if before not in (None, key.key):
                log.warning("another key than before", before=short(before), key=short(key.key))
                self.station.to_tell.append(("warn", "key-changed", short(key.key)))
            self.recording: SessionFile | None = None
            if record is not None:
                header = Header(
                    {one.setup.name: one.settings for one in plugged},
                    "recorded by weighd",
                    name,
                    {"name": rule.name, "k": mass.text(rule.k)},
                    __version__,
                    tail.seq,
                    tail.hash,
                    made,
                    {one.setup.name: one.setup.known for one in plugged if one.setup.known},
                    past,
                    tuple(vessels),
                    tuple(lots),
                    receiver.shared if receiver else None,
                    wall,
                    dict(lots.strangers),
                )
                self.recording = record.begin(header)
            sender = open_sender(config, self.journal, self.clock)
        except BaseException:
            self.journal.close()
            raise
        self.picture = Picture(self.station, boot=secrets.token_hex(8), simulation=simulation)
        self.live = Live(self.picture)
        self.runner = Runner(
            self.station,
            self.journal,
            self.clock,
            self.picture,
            self.live,
            self.recording.write if self.recording else None,
            self._keeper,
            book,
            partial(put_away_in, self.journal),
        )
        self.heads = daily_heads(config, self.journal, key, self.clock, self.runner.tell)
        self.archives = daily_archives(config, self.journal, key, self.clock)
        self.sender, self.receiver = sender, receiver
        if receiver is not None:
            self.shelf = receiver.shelf(shelf)
        if sender is not None:
            self.picture.sharing = lambda: sender.now
        self.floor = open_floor(config, self.picture, self.clock, __version__)
        self._solver = Beside()
        self._plugged = plugged
        #: Whether it ended so that another one may begin, with what was configured meanwhile.
        self.anew = False
        self._end: Callable[[], None] = lambda: None
        self._stop = threading.Event()
        self._rounds = {one.setup.name: Rounds() for one in plugged}
        self._threads: list[threading.Thread] = []

    async def run(self, until: asyncio.Event, ready: Callable[[], None] = lambda: None) -> None:
        """Run the station without a page until ``until`` is set; close everything at the end."""
        running = asyncio.create_task(self.runner.run())
        stopping = asyncio.create_task(until.wait())
        waking = asyncio.create_task(self.runner.awake.wait())
        try:
            # Nothing is heard or shown before a batch left open stands on the bench again.
            await asyncio.wait({running, stopping, waking}, return_when=asyncio.FIRST_COMPLETED)
            if waking.done():
                self._read_scales()
                if self.sender is not None:
                    self.sender.start(self.runner.later("sharing"))
                if self.receiver is not None:
                    self.receiver.start(self.runner)
                if self.floor is not None:
                    self.floor.start(self.live, self.runner.tell)
                ready()
            await asyncio.wait({running, stopping}, return_when=asyncio.FIRST_COMPLETED)
            if running.done():
                running.result()  # a station that stopped by itself stopped for a defect
        finally:
            for stop in (self._stop, *self._rounds.values()):
                stop.set()
            if self.floor is not None:
                await self.floor.stop()
            for task in (stopping, waking, running):
                task.cancel()
            await asyncio.gather(running, stopping, waking, return_exceptions=True)
            await asyncio.to_thread(self._close)

    async def serve(
        self,
        sock: socket.socket,
        simulation: Simulation | None = None,
        ready: Callable[[], None] = lambda: None,
        first: FirstStart | None = None,
        first_formulas: FirstFormulas | None = None,
        watch: Watch | None = None,
        second: SecondDoor | None = None,
    ) -> None:
        """Run the station with its page on a bound socket until a signal comes.

        ``watch``  looks whether it goes on. The socket stays open, for whoever begins anew on it,
        and so does that of the ``second`` door.
        """
        app = create_app(
            self.runner,
            self.journal,
            self.shelf,
            HttpSettings(
                self.config.http.host,
                Elsewhere() if second is None else second.settings,
                () if second is None else second.addresses,
                plain=second is not None and second.plain,
                operators=self.config.station.operators,
                vessels=self.config.plan.as_text(),
                dry_ice=self.config.dry_ice.as_text(),
                stay_s=self.config.people.minutes * 60,
                labels=self.config.labels.look(self.config.station.name),
            ),
            simulation=simulation,
            dist=page(),
            audience=self.live,
            outputs=RecordOutputs(),
            pantry=self.pantry,
            revisions=self.revisions,
            shipped=read_shipped_table,
            solver=self._solver,
            shared=self.receiver,
            heads=self.heads,
            people=People(self.journal.people(), Argon2Pins(), self.clock.utc),
            devices=Devices(self.journal.devices(), self.clock.utc, self.clock.now),
            floor=self.floor.live if self.floor else None,
            first=first,
            first_formulas=first_formulas,
        )
        room = make_room()
        servers = [(web_server(app, most=room if second is None else room - theirs(room)), sock)]
        if second is not None:
            more = second.server_settings()
            there = web_server(AtSecondDoor(app), most=theirs(room), **more)
            servers.append((there, second.sock))
        until = asyncio.Event()
        loop = asyncio.get_running_loop()

        def end() -> None:
            loop.call_soon_threadsafe(loop.call_later, ANSWERED_S, until.set)

        self._end = end
        for number in (signal.SIGINT, signal.SIGTERM):
            loop.add_signal_handler(number, until.set)
        tasks: list[asyncio.Task[None]] = []
        renewing: list[asyncio.Task[None]] = []

        async def show_the_page() -> None:
            for server, its in servers:
                serving = asyncio.create_task(server.serve(sockets=[its.dup()]))
                tasks.append(serving)
                serving.add_done_callback(lambda _: until.set())
                while not server.started and not serving.done():  # noqa: ASYNC110 - no event for it
                    await asyncio.sleep(0.01)
            if second is not None:
                tasks.append(asyncio.create_task(second.keep_certificate()))
                renewing.append(tasks[-1])
            ready()
            if watch is not None:
                watching = watch.run(self.runner, self._rounds, until, lambda: self.anew)
                tasks.append(asyncio.create_task(watching))

        try:
            await self.run(until, lambda: tasks.append(asyncio.create_task(show_the_page())))
        finally:
            for server, _ in servers:
                server.should_exit = True
            for task in renewing:
                task.cancel()
            await asyncio.gather(*tasks, return_exceptions=True)

    def begin_anew(self) -> None:
        """End, so that a station begins with another configuration; from whatever thread."""
        self.anew = True
        self._end()

    # --- scales -------------------------------------------------------------------------------

    def _read_scales(self) -> None:
        beside = {"start": self._start.run}
        if self.archives is not None:
            self.archives.begin(self.runner)
            beside["archives"] = self.archives.run
        if self.heads is not None:
            beside["heads"] = self.heads.run
        for name, target in beside.items():
            run = threading.Thread(target=target, args=(self._stop,), name=name, daemon=True)
            self._threads.append(run)
            run.start()
        for one in self._plugged:
            thread = threading.Thread(
                target=self._read, args=(one,), name=f"scale {one.setup.name}", daemon=True
            )
            self._threads.append(thread)
            thread.start()

    def _read(self, plugged: Plugged) -> None:
        name = plugged.setup.name
        stop = self._rounds[name]

        def deliver(sent: Signal) -> None:
            if isinstance(sent, Lost):
                log.warning("scale lost", scale=name, why=sent.why)
            elif not hasattr(sent, "data"):
                log.info("scale found", scale=name, what=getattr(sent, "what", ""))
            self.runner.deliver(name, sent)

        try:
            plugged.source.run(deliver, stop, self.clock.now)
        except WeighdError as error:
            deliver(Lost(self.clock.now(), str(error)))
        except Exception as error:
            log.exception("driver failed", scale=name)
            deliver(Lost(self.clock.now(), f"its driver failed ({error!r})"))
        finally:
            stop.over = True

    def _close(self) -> None:
        stopping = SystemClock()
        for thread in self._threads:
            thread.join(max(0.0, JOIN_S - stopping.now()))
        if self.recording is not None:
            self.recording.close()
        try:
            self._keeper.keep(self._keeper.news(self.station), self.clock.utc())
        except WeighdError as error:
            log.warning("what was learned of the scales is not kept", why=str(error))
        for one in (self.sender, self.receiver):
            if one is not None:
                one.stop()
        self._solver.close()
        self._start.keep_up(AT_A_STOP)
        self.journal.close()


def page() -> Any:
    """The built page; ``None`` where this installation has none."""
    dist = files("weighd_web") / "dist"
    return dist if (dist / "index.html").is_file() else None
