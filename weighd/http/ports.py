"""What the network edge needs of others: formulas, a simulation where there is one, settings."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from contextlib import AbstractContextManager
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Annotated, Any, Protocol

from anyio import CapacityLimiter
from fastapi import Depends, Request

from weighd.domain.against_plan import Prices
from weighd.domain.errors import FormulaError, OperatorError
from weighd.domain.formula import Formula, Ingredient
from weighd.domain.formula_kept import Found, Kept
from weighd.domain.formula_shared import Chosen, Published
from weighd.domain.heat_tables import HeatTable
from weighd.domain.label_size import LabelLook, LabelSize
from weighd.domain.limits import ProductClass
from weighd.domain.problem import Solver
from weighd.http.caller import Caller, Desk
from weighd.http.door import Door, Elsewhere, asker_of
from weighd.station.devices import Devices
from weighd.station.drafting import Origins
from weighd.station.everywhere import Traced
from weighd.station.labels import Label
from weighd.station.ports import Journal
from weighd.station.runner import Runner

if TYPE_CHECKING:
    from weighd.http.keys import KeyBook
    from weighd.http.live import Live
    from weighd.http.metrics import Metrics


class Shelf(Protocol):
    """The formulas that can be made. Asked from one thread at a time."""

    def all(self) -> tuple[Sequence[Formula], Sequence[FormulaError]]:
        """Every formula, and what is wrong with the files that do not hold one."""

    def kinds(self) -> Mapping[str, ProductClass]:
        """The limits of each kind of product. Raises an error of weighd's for a bad file."""

    def get(self, identity: str, /) -> Formula:
        """One formula. Raises :class:`FormulaError`, ``unknown-formula`` when there is none."""

    def prices(self, identity: str, /) -> Prices:
        """What the ingredients cost today, with those of one formula."""


class Pantry(Protocol):
    """The files of a kitchen that can be changed. Asked from one thread at a time.

    A *tag* stands for a file's content; a change names the one that it was made from, and is
    refused (:class:`OperatorError`, ``changed-since``) where the file has another by then. What is
    wrong with a change is told by :class:`FormulaError` or :class:`ConfigError`, naming its field;
    nothing is written then.
    """

    @property
    def fixed(self) -> str:
        """Why nothing can be changed; empty where it can."""

    def ingredients(self) -> tuple[Mapping[str, Ingredient], str]:
        """The kitchen's ingredients, and their tag."""

    def users(self) -> Mapping[str, Sequence[str]]:
        """Of each ingredient the formulas that weigh it in."""

    def put_ingredients(self, tables: Mapping[str, Mapping[str, Any]], tag: str, /) -> str:
        """Add or change ingredients, all of them or none; the new tag."""

    def remove_ingredient(self, identity: str, tag: str, /) -> str:
        """Take one out; the new tag."""

    def source(self, identity: str, /) -> tuple[Mapping[str, Any], str]:
        """A formula's file as values, and its tag."""

    def draft(self, identity: str, document: Mapping[str, Any], /) -> Formula:
        """The formula that a document would be."""

    def faults(self, identity: str, document: Mapping[str, Any], /) -> list[FormulaError]:
        """All that is wrong with it."""

    def heat_tables(self) -> Mapping[str, HeatTable]:
        """The published heat treatments that its steps may follow."""

    def put_formula(
        self,
        identity: str,
        document: Mapping[str, Any],
        origins: Origins,
        tag: str,
        like: str,
        /,
    ) -> str:
        """Write a formula whose additions and steps were these before, in its file or in that of
        ``like``, whose copy a new one begins as; the new tag."""

    def remove_formula(self, identity: str, tag: str, /) -> str:
        """Put a formula away; where it is then."""

    def limits(self) -> tuple[Mapping[str, ProductClass], str, bool]:
        """The classes of product, their tag, and whether they are the kitchen's own."""

    def put_limits(self, identity: str, table: Mapping[str, Any], tag: str, /) -> str:
        """Add or change a class; the new tag."""


class Revisions(Protocol):
    """The revisions of formulas that are kept beside them. Asked as the shelf is."""

    def said(self, how: Found, by: str, /) -> AbstractContextManager[None]:
        """What is met as new meanwhile came about like this."""

    def of(self, formula: str, /) -> tuple[Sequence[Kept], Sequence[FormulaError]]:
        """What is kept of a formula, oldest first, and what is wrong with files that are none."""


class Simulation(Protocol):
    """A simulated scale whose load can be changed. Called in the event loop; must not block."""

    def picture(self) -> Mapping[str, Any]:
        """What is on the scale and what the simulated cook does, as JSON values."""

    def do(self, what: Mapping[str, Any], /) -> None:
        """Act on the load: ``{"do": "pour", "g_per_s": "40"}``. Raises :class:`OperatorError`."""


class Outputs(Protocol):
    """Records as others read them. Called in threads; a document is what an export holds."""

    def sheet(self, document: Mapping[str, Any], /) -> bytes:
        """The record sheet, PDF. It says so where the record does not hold."""

    def table(self, document: Mapping[str, Any], /) -> str:
        """Its weighings as CSV."""

    def schema(self) -> str:
        """The JSON Schema of such documents."""

    def recall_pdf(self, told: Mapping[str, Any], /) -> bytes:
        """A recall sheet, PDF, of what :func:`weighd.station.recalling.draw_recall` tells."""

    def recall_csv(self, told: Mapping[str, Any], /) -> str:
        """The same as CSV."""

    def labels(self, labels: list[Label], size: LabelSize, form: str, /) -> bytes:
        """Labels, PDF. Raises :class:`OperatorError`, ``label-too-small``."""

    def labels_told(self, labels: list[Label], form: str, /) -> dict[str, Any]:
        """What stands on them, each with its code drawn."""


class Heads(Protocol):
    """The heads that the station writes each day."""

    def drawn(self) -> Mapping[str, Any]:
        """The newest, when the next is due, and what is wrong, as JSON values."""


class Others(Protocol):
    """The other stations that share a store. Called in threads.

    What needs the store now raises :class:`JournalError` where it cannot be reached.
    """

    @property
    def cut_off(self) -> str:
        """Why nothing came down at the last call; empty where it did."""

    def trace(self, lot: str, station: str, /) -> Traced:
        """A trace across all stations, of a lot received at that one (empty: wherever)."""

    def publish(self, formula: Formula, by: str, /) -> tuple[Published, bool]:
        """Publish a formula; and whether it is new."""

    def formulas(self) -> list[dict[str, Any]]:
        """What came down, newest first."""

    def revisions(self, formula: str, /) -> Sequence[Published]:
        """What came down of one formula."""

    def choose(self, identity: str, chosen: Chosen, /) -> Published:
        """Take a formula that came down, or leave it."""


class FirstStart(Protocol):
    """Setting up scales. Called in threads, one at a time; refusals are :class:`OperatorError`."""

    def picture(self, *, again: bool = False) -> dict[str, Any]:
        """What is plugged in and what it says; ``again`` looks anew."""

    def learn(self, key: str, /) -> dict[str, Any]:
        """Try how the scale at a serial port is talked to."""

    def add(self, asked: Mapping[str, str], *, more: bool) -> dict[str, Any]:
        """Write a scale into the configuration, and begin anew with it."""

    def name(self, name: str, /) -> None:
        """Have whoever weighs offered by name."""


class FirstFormulas(Protocol):
    """Where a first formula comes from. Called as the shelf is."""

    def examples(self) -> list[dict[str, Any]]:
        """The invented ones that ship."""

    def take(self, identity: str, /) -> str:
        """Copy one into the kitchen; its id."""

    def read_list(self, text: str, /) -> dict[str, Any]:
        """What a pasted list is taken for."""

    def take_list(self, name: str, text: str, /) -> str:
        """Make a formula of one; its id."""


@dataclass(frozen=True, slots=True)
class HttpSettings:
    """How the station may be reached.

    ``host``           what the station's own computer may call it beside localhost.
    ``elsewhere``      the door for other devices.
    ``addresses``      what other devices open; none where there is no such door.
    ``plain``          whether they come in without TLS.
    ``operators``      names that the page offers to whoever weighs.
    ``vessels``        what a start without them is planned with: ``bowl_g`` and the like.
    ``largest_body``   bytes of a request; a command is far smaller, a table may be larger.
    ``dry_ice``        the usual room and efficiency, by field.
    ``labels``         how labels look, and which sizes of them there are.
    ``stay_s``         how long somebody stays signed in without doing anything.
    """

    host: str = "127.0.0.1"
    elsewhere: Elsewhere = field(default_factory=Elsewhere)
    addresses: tuple[str, ...] = ()
    plain: bool = False
    operators: tuple[str, ...] = ()
    largest_body: int = 64 * 1024
    vessels: Mapping[str, str] = field(default_factory=dict)
    dry_ice: Mapping[str, str] = field(default_factory=dict)
    stay_s: float = 900.0
    labels: LabelLook = field(default_factory=LabelLook)


@dataclass(frozen=True)
class Room:
    """Everything that a request may need: one for each application."""

    runner: Runner
    journal: Journal
    shelf: Shelf
    settings: HttpSettings
    simulation: Simulation | None
    keys: KeyBook
    metrics: Metrics
    outputs: Outputs
    pantry: Pantry | None = None
    #: Earlier revisions of its formulas.
    revisions: Revisions | None = None
    #: The compositions that ship, by their ids.
    shipped: Callable[[], Mapping[str, Ingredient]] = dict
    #: What finds the smallest additions; scipy is imported with its first problem.
    solver: Solver | None = None
    #: The heads of each day, where they are written.
    heads: Heads | None = None
    #: What all stations do, where this one watches a broker.
    floor: Live | None = None
    #: The other stations, where it shares with some.
    shared: Others | None = None
    #: A shelf is not made to be read by two threads at once.
    shelf_turn: CapacityLimiter = field(default_factory=lambda: CapacityLimiter(1))
    #: One problem at a time: the others wait, and the weighing goes on.
    solver_turn: CapacityLimiter = field(default_factory=lambda: CapacityLimiter(1))
    #: One sheet is set at a time: whoever weighs comes first.
    output_turn: CapacityLimiter = field(default_factory=lambda: CapacityLimiter(1))
    #: Setting up scales, and the first formula; ``None`` where a station is not set up by its page.
    first: FirstStart | None = None
    first_formulas: FirstFormulas | None = None
    #: Names that were given since the start, beside the configured ones.
    named: list[str] = field(default_factory=list)
    #: Devices are looked at by one thread at a time.
    first_turn: CapacityLimiter = field(default_factory=lambda: CapacityLimiter(1))
    #: Where people show who they are; ``None`` where there is no list of them.
    desk: Desk | None = None
    #: Who comes in, and the devices that may from elsewhere; ``None`` where none can.
    door: Door | None = None
    devices: Devices | None = None
    #: Who asks: of one request.
    caller: Caller = field(default_factory=Caller)

    def at_the_station(self, what: str) -> None:
        """See to it that whoever asks stands there, or showed by PIN that they may do it.

        Where people are listed the right was asked for already. Raises :class:`OperatorError`.
        """
        if not (self.caller.here or self.caller.proved):
            raise OperatorError("not-here", what, remedy="Open this page there.")

    def ingredients(self, formulas: Sequence[Formula] | None = None) -> dict[str, Ingredient]:
        """Every ingredient that a formula or the kitchen's list knows, by id; the list's stand.

        ``formulas``  all there are, where they were read already. Asked as the shelf is.
        """
        formulas = self.shelf.all()[0] if formulas is None else formulas
        out = {one.ingredient.id: one.ingredient for it in formulas for one in it.additions}
        return out if self.pantry is None else {**out, **self.pantry.ingredients()[0]}


async def room_of(request: Request) -> Room:
    """The room of one request, once it is known who asks and that they may.

    Raises :class:`OperatorError` where they may not. Every route goes through here.
    """
    room: Room = request.app.state.room
    caller = Caller() if room.desk is None else await room.desk.caller(request)
    asker = asker_of(request.scope)
    return replace(
        room, caller=replace(caller, here=asker.here, known=asker.known, device=asker.device)
    )


Here = Annotated[Room, Depends(room_of)]
