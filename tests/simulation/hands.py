"""A pair of hands and a page: what is pressed, poured, set down and zeroed."""

from __future__ import annotations

import math
from typing import Any

from tests.simulation.broken import hold
from tests.simulation.chance import Chance
from tests.simulation.house import Died, House
from tests.simulation.rules import Rules
from tests.simulation.scales import Scale, Vessel
from tests.simulation.setting import PEOPLE, Setting
from tests.simulation.tally import Tally
from tests.simulation.truth import Truth
from tests.simulation.world import World
from weighd.domain.acts import name_of
from weighd.domain.batch import Batch, Planned
from weighd.domain.errors import FormulaError, JournalError, OperatorError
from weighd.domain.kinds import Kind
from weighd.domain.plan_words import Role
from weighd.station.inputs import Answer, ClockSet, Command

#: Refusals of what was offered: then the offer was wrong.
NEVER_OFFERED = ("not-now", "nothing-poured")
#: What a display takes to come to rest at most, milliseconds.
REST_MS = 1500
#: What is poured at most in a second while an addition is held, grams: a vessel comes down faster.
MOST_G_S = 200
#: And ever.
MOST_EVER_G_S = 2500
#: A key is told within so long, milliseconds; a station that dies before it is knows nothing of it.
UNTOLD_MS = 1000


class Hands:
    """One pair of hands and a page."""

    def __init__(
        self, setting: Setting, house: House, world: World, rules: Rules, tally: Tally
    ) -> None:
        self.setting, self.house, self.world = setting, house, world
        self.rules, self.tally = rules, tally
        self.truth: Truth = rules.truth
        self.chance = Chance(0)
        self.turn = 0
        self.presses = 0
        self.started = 0
        #: What was pressed: to be pressed again. And what got no answer, since the station died.
        self.pressed: list[tuple[Command, Answer]] = []
        self.unanswered: Command | None = None
        self.code = ""
        #: Scales that were emptied and zeroed; and since when nothing has come of waiting.
        self.emptied: set[str] = set()
        self.waiting: tuple[tuple[str, int, str], int] | None = None
        #: Until when a key that was pressed is told of, in which batch and addition, and after how
        #: many entries: no end where nothing could be written.
        self.keyed: tuple[float, str, int, int] | None = None
        #: When a hand last left a pan that it had leaned on, or the station began.
        self.touched_ms = -math.inf
        #: Of each batch, the weighings before which the vessels were handled already.
        self._handled: dict[str, int] = {}

    # --- what the cook sees -----------------------------------------------------------------------

    @property
    def batch(self) -> Batch | None:
        batch = self.house.station.batch
        return batch if batch is not None and batch.current is not None else None

    def scale_of(self, planned: Planned) -> Scale:
        return self.world.scales[planned.scale]

    def vessel_of(self, batch: Batch, planned: Planned) -> Vessel:
        """The vessel that a weighing goes into, or out of."""
        step = planned.step
        if planned.by_difference and (step is None or step.into == "source"):
            name = f"source of {planned.ingredient}"
            return self.world.vessel(f"{batch.id} {name}", 212.34)
        name = "bowl" if step is None else name_of(*step.place)
        empty = self.setting.bowl_g if name == "bowl" else 61.283
        return self.world.vessel(f"{batch.id} {name}", empty)

    # --- pressing ---------------------------------------------------------------------------------

    def press(self, do: str, **given: Any) -> Answer | None:
        """Press a button once; ``None`` where it was refused (``code``) or nobody answered."""
        self.presses += 1
        given.setdefault("key", f"{self.setting.seed}-{self.turn}-{self.presses}")
        command = Command(self.house.t, do, **given)
        return self.send(command)

    def send(self, command: Command) -> Answer | None:
        """Send a command; what it says is kept."""
        station, self.code = self.house.station, ""
        offered = command.do in station.can()
        before = station.batch, len(self.rules.entries)
        self.tally.saw("command", command.do)
        try:
            answer = self.house.ask(command)
        except Died:
            self.unanswered = command
            raise
        except JournalError as error:
            self.code = error.code
            hold(station.batch is before[0], "what was not written did not happen", command.do)
            return None
        except (OperatorError, FormulaError) as error:
            self.code = error.code
            self.tally.saw("refused", error.code)
            hold(
                not (offered and error.code in NEVER_OFFERED),
                "what is offered is taken",
                f"{command.do}: {error.code}",
            )
            return None
        self._answered(command, answer, before[1])
        return answer

    def _answered(self, command: Command, answer: Answer, entries: int) -> None:
        keys = self.rules.keys
        if answer.entry is not None and command.key in keys:
            hold(keys[command.key] == answer.entry, "an answer names its entry", command.do)
        if answer.again:
            self.tally.saw("pressed", "again")
            there = len(self.rules.entries)
            hold(there == entries, "a key acts once", command.do)
        elif answer.entry is not None:
            self.pressed.append((command, answer))
            body = self.rules.entries[answer.entry - 1].body
            of = body.get("addition", command.addition)
            hold(command.addition in (None, of), "a late press acts on nothing else", command.do)

    def again(self, command: Command, answer: Answer) -> None:
        """The same press once more: the same answer, and nothing happens."""
        then = self.send(command)
        if then is not None:
            hold(
                then.again and then.entry == answer.entry,
                "a key acts once",
                f"{command.do}: {answer} and then {then}",
            )
        else:
            hold(self.code.startswith("store"), "a key acts once", f"{command.do}: {self.code}")

    def retry(self) -> None:
        """Nobody answered, since the station died: the page sends it again."""
        command, self.unanswered = self.unanswered, None
        if command is None:
            return
        keys = self.rules.keys
        there = keys.get(command.key)
        answer = self.send(command)
        self.tally.saw("pressed", "after nobody answered")
        if there is not None:
            hold(
                answer is not None and answer.again and answer.entry == there,
                "a key acts once",
                f"{command.do} after a crash: {answer} {self.code}",
            )

    def shelf(self, do: str, name: str, **given: Any) -> None:
        """Keep or forget a vessel: the station's list, and what is kept beside the record."""
        if self.press(do, vessel=name, by=self.somebody(), key="", **given) is None:
            return
        kept = self.house.station.shelf.found(name)
        if kept is None or kept.configured:
            self.house.vessels.pop(name, None)
        else:
            self.house.vessels[name] = kept

    # --- hands ------------------------------------------------------------------------------------

    def wait(self, ms: int = REST_MS) -> None:
        self.world.advance(ms)

    def rest(self, scale: Scale) -> None:
        """Wait until the display stands, or nobody would wait any longer."""
        for _ in range(14):
            self.world.advance(400)
            station, batch = self.house.station, self.batch
            finding = station.scales[scale.name].finding
            if finding is not None and finding.firm:
                seen = batch is None or batch.tare is None or not station.current_on(scale.name)
                if seen or station.now.level is not None:
                    return

    def set_down(self, vessel: Vessel, scale: Scale) -> None:
        self.world.busy = scale.name
        if scale.on is not vessel or scale.extra_g:
            scale.extra_g = 0.0
            self.world.put(vessel, scale.name)
            self.rest(scale)

    def clear(self, scale: Scale) -> None:
        self.world.busy = scale.name
        if scale.on is not None or scale.extra_g:
            scale.on, scale.extra_g = None, 0.0
            self.rest(scale)

    def pour(self, grams: float, *, wait: bool = True) -> None:
        """Pour so much of the current ingredient, as it is weighed."""
        batch = self.batch
        assert batch is not None
        planned = batch.current
        assert planned is not None
        grams = max(grams, 0.0)
        if grams <= 0 or not self.scale_of(planned).plugged:
            return
        vessel, chance = self.vessel_of(batch, planned), self.chance
        seconds = chance.choice((0.3, 0.6, 1.0))
        if batch.held is not None:  # whoever is asked about the scale empties no bucket into it
            seconds = max(seconds, grams / MOST_G_S)
        rate = min(max(grams / seconds, 1.0), MOST_EVER_G_S)
        bowl = self.world.vessel(f"{batch.id} bowl", self.setting.bowl_g)
        if planned.by_difference:
            self.world.pour(bowl, planned.ingredient, grams, rate, vessel)
        elif planned.step is not None and planned.step.role is Role.FROM_PREMIX:
            premix = self.world.vessel(f"{batch.id} premix {planned.step.premix}", 61.283)
            self.world.pour(vessel, planned.ingredient, grams, rate, premix)
        else:
            self.world.pour(vessel, planned.ingredient, grams, rate, None)
        self.world.busy = planned.scale
        self.wait(round(grams / rate * 1000) + 100)
        if wait:
            self.wait(round(chance.uniform(0.2, 0.6) * REST_MS))

    def somebody(self) -> str:
        return self.chance.choice(PEOPLE)

    def is_own(self, scale: Scale) -> bool:
        """Whether nothing stands there but the vessel of the addition that is weighed."""
        batch = self.batch
        if scale.on is None or batch is None or batch.current is None:
            return True
        return scale.on is self.vessel_of(batch, batch.current)

    def zeroed(self, scale: Scale) -> None:
        """Its key is pressed, or it is switched on: with the vessel off, that is not seen."""
        if scale.on is None:
            self.emptied.add(scale.name)
        elif scale.name in self.emptied:
            # What it shows is no longer vessel and all: that it was zeroed empty stays untold.
            self.doubt()
            self.emptied.discard(scale.name)
        scale.zero()

    def accept(self, **given: Any) -> Answer | None:
        """Accept what is shown; a zero that was set empty meanwhile is no matter after that."""
        self.doubt()
        batch = self.batch
        assert batch is not None
        planned = batch.current
        assert planned is not None
        answer = self.press("accept", **given)
        if answer is not None:
            self.emptied.discard(planned.scale)
        return answer

    def unwritten(self, until_ms: float) -> None:
        """The zero moved: who dies before that, with nothing written of it, did not see it."""
        batch = self.batch
        current = batch.current if batch is not None else None
        if batch is not None and current is not None:
            self.keyed = (until_ms, batch.id, current.n, len(self.rules.entries))

    def doubt(self) -> None:
        """Whoever accepts without looking whether the scale was zeroed empty is not believed."""
        batch = self.batch
        current = batch.current if batch is not None else None
        if batch is not None and current is not None and current.scale in self.emptied:
            self.truth.lies.add((batch.id, current.n))

    def died(self) -> None:
        """A key that was pressed just before went unseen, if nothing was written of it yet."""
        if self.keyed is not None:
            told_by, batch, n, entries = self.keyed
            since = self.rules.entries[entries:]
            told = any(one.kind in (Kind.HELD, Kind.ZERO_MOVED) for one in since)
            if not told and self.world.ms < told_by:
                self.truth.lies.add((batch, n))
        self.keyed = None
        self.touched_ms = self.world.ms  # nor is a key told in the first readings of a life

    def clock_right(self) -> None:
        """Somebody sets the computer's clock right."""
        self.house.ahead_s = self.house.most_ahead_s + 1
        self.world.deliver(ClockSet(self.world.t, self.house.wall()))
