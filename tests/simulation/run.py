"""One seed, from its kitchen to its verified record."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Collection
from dataclasses import dataclass, field

from tests.simulation.afterwards import beside, in_process, steps_on
from tests.simulation.broken import Broken, hold
from tests.simulation.chance import chance_of
from tests.simulation.cook import Cook
from tests.simulation.faults import fail
from tests.simulation.house import Died, House
from tests.simulation.pages import Page
from tests.simulation.proofs import replays, shown_alone
from tests.simulation.rules import Rules
from tests.simulation.setting import Setting, drawn
from tests.simulation.slips import slip
from tests.simulation.stores import InFile, InMemory, Store
from tests.simulation.tally import Tally
from tests.simulation.truth import Truth
from tests.simulation.world import World
from weighd.domain.errors import JournalError
from weighd.http.live import Live
from weighd.station.inputs import Input

#: Turns of a kitchen, by its batches, after which the cook only finishes what is begun.
TURNS_EACH, MOST_FAIR, MOST_EACH = 26, 60, 12
_LOOKS = 1 << 19


@dataclass
class Outcome:
    """What became of a seed. ``broken``: the rule, and the turn in which it broke."""

    seed: int
    batches: int = 0
    turns: int = 0
    entries: int = 0
    inputs: int = 0
    trace: str = ""
    broken: Broken | None = None
    at: int = -1
    told: list[str] = field(default_factory=list)


class Run:
    """A kitchen that works, turn by turn.

    ``without``  turns in which nothing is done, for a shorter trace of what went wrong.
    """

    def __init__(self, seed: int, tally: Tally, without: Collection[int] = ()) -> None:
        self.setting: Setting = drawn(seed)
        self.seed, self.tally, self.without = seed, tally, frozenset(without)
        self.store: Store = InFile(seed) if self.setting.store == "file" else InMemory()
        self.house = House(self.setting, self.store.open)
        self.world = World(self.setting, self._deliver)
        self.truth = Truth(self.world, tally)
        self.pages = [Page("fast", 1.0), Page("slow", 0.25), Page("asleep", 0.02)]
        self.rules = Rules(self.house, self.truth, self.pages, tally)
        self.house.watcher = self.rules
        self.cook = Cook(self.setting, self.house, self.world, self.rules, tally)
        self.inputs = 0
        self.turn = 0
        self.did = ""
        self.idle = self.noted = 0
        self.link: Live
        self.told: list[str] = []
        self._trace = hashlib.sha256()

    # --- what a seed does -------------------------------------------------------------------------

    def go(self) -> Outcome:
        """From morning to evening."""
        out = Outcome(self.seed)
        try:
            self.life()
            self._day()
            self._evening()
        except Broken as error:
            out.broken, out.at = error, self.turn
        finally:
            self.house.close()
            self.store.clear()
        out.batches, out.turns = self.cook.started, self.turn
        out.entries, out.inputs = len(self.rules.entries), self.inputs
        if out.broken is not None:
            self.told.append(f"turn {self.turn}: {self.did}: {out.broken}")
        out.trace, out.told = self._trace.hexdigest(), self.told
        return out

    def _day(self) -> None:
        for turn in range(TURNS_EACH * self.setting.batches):
            self.turn = turn
            if self.turn in self.without:
                continue
            self._turn(self._any)
            if self.idle > 2:
                break

    def _evening(self) -> None:
        """Nothing fails any more, and the cook finishes what is begun: it can be."""
        self.house.fails.clear()
        self.house.die_at = None
        batch = self.cook.batch
        left = len(batch.additions) - len(batch.accepted) if batch else 0
        for _ in range(MOST_FAIR + MOST_EACH * left):
            self.turn += 1
            if not self._turn(self._ends):
                break
        else:
            batch = self.cook.batch
            raise Broken(
                "every phase can be left",
                f"{self.house.station.now.phase}, {batch and batch.held}, {self.cook.code}",
            )
        self.rules.kept()
        self._proofs()

    def _proofs(self) -> None:
        """Every batch that is over is shown alone, and the last life replays."""
        look = self.house.look
        over = [one.id for one in self.rules.batches() if one.is_over]
        for batch in over:
            if look.often(0.3) or self.setting.store == "file":
                self.tally.saw("proof", "a batch shown alone")
                shown_alone(self.house, batch, self.store.signatures(batch))
        # A recording has what its stores took, and begins between batches.
        if self.house.header is not None and not self.house.refused and self.house.fresh:
            torn = look.often(0.2)
            self.tally.saw("proof", "torn recording read" if torn else "recording replayed")
            replays(self.house, self.rules.entries[self.house.header.seq :], torn=torn)

    def _ends(self) -> bool:
        """What is begun is finished: on the bench, and off it."""
        return self.cook.next() or steps_on(self.cook)

    def _any(self) -> bool:
        cook, chance = self.cook, self.cook.chance
        roll = chance.random()
        if roll < self.setting.faults:
            self.did = fail(self)
            return True
        if roll < self.setting.faults + self.setting.slips and cook.batch is not None:
            self.did = slip(cook)
            return True
        self.did = "next"
        if cook.batch is None and cook.unanswered is None:
            if chance.often(0.35 if in_process(cook) is None else 0.6):
                self.did = beside(cook)
                return True
            if cook.started < self.setting.batches:
                self.did = "start"
                cook.start()
                return True
            self.idle += 1
            return False
        if chance.often(0.03):
            self.did = beside(cook)
            return True
        return cook.next()

    def _turn(self, act: Callable[[], bool]) -> bool:
        chance = chance_of(self.seed, self.turn)
        self.house.look = chance_of(self.seed, self.turn + _LOOKS)
        self.world.chance = self.cook.chance = chance
        self.cook.turn = self.turn
        try:
            did = act()
        except Died as died:
            self.tally.saw("died", died.args[0])
            self.life()
            did = True
        for damage in self.world.told:
            self.tally.saw("cable", damage)
        self.world.told.clear()
        self.rules.turn()
        self._note()
        return did

    def _note(self) -> None:
        """What happened goes into the trace."""
        entries = self.rules.entries
        made = [one.kind for one in entries[self.noted :]]
        self.noted = len(entries)
        phase = self.house.station.now.phase if self.cook.batch else "no batch"
        last = f" -> {', '.join(made)}" if made else ""
        self.told.append(
            f"turn {self.turn}, {self.world.ms / 1000:.1f} s: {self.did}, {phase}{last}"
        )
        told = f"{self.turn} {self.world.ms} {entries[-1].hash if entries else ''}"
        self._trace.update(f"{told} {self.house.picture.seq} {self.house.station.now}\n".encode())

    # --- its parts --------------------------------------------------------------------------------

    def life(self) -> None:
        """Another life of the station begins."""
        house, world = self.house, self.world
        house.ms = world.ms
        self.cook.died()
        while True:
            try:
                house.begin({name: one.plugged for name, one in world.scales.items()})
            except Died as died:
                self.tally.saw("died", died.args[0])
            except JournalError as error:  # it does not start; whoever starts it tries again
                self.tally.saw("died", error.code)
            else:
                break
        self.rules.begun()
        world.base_ms = house.base_ms
        self.link = Live(house.picture)
        for page in self.pages:
            page.connect(self.link, house.picture, resume=house.look.often(0.5))

    def _deliver(self, event: Input) -> None:
        self.inputs += 1
        self.house.ms = self.world.ms
        self.house.take(event)


def simulate(seed: int, tally: Tally | None = None, without: Collection[int] = ()) -> Outcome:
    """Run one seed; what went wrong, if anything, is in the outcome."""
    run = Run(seed, Tally() if tally is None else tally, without)
    return run.go()


__all__ = ["Outcome", "Run", "hold", "simulate"]
