"""Every way to put a pour right, with what it makes of the batch, ranked by what matters to a cook.

First what can be done at all, then what keeps the mix in its limits, then what changes the amount
of product least, then few weighings, then what costs least. Taking out what can be taken out
changes nothing and so comes first.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from decimal import Decimal

from weighd.domain import mass
from weighd.domain.batch import Planned
from weighd.domain.errors import OperatorError, SolverError
from weighd.domain.headroom import fills, most_g
from weighd.domain.limits import Limit, ProductClass
from weighd.domain.problem import Solver
from weighd.domain.recovery import Change, State, Trouble, Way
from weighd.domain.recovery_coming import becomes, coming, with_others
from weighd.domain.recovery_effects import SERVED_C, Effect, effects
from weighd.domain.recovery_ranges import BANDS, Mix, is_known, keeps, mixed, planned_mix, wanted
from weighd.domain.recovery_search import Allowed, Fight, Found, search
from weighd.domain.recovery_ways import Barred, as_it_is, enlarged, shrunk

_NONE, _ONE = Decimal(0), Decimal(1)
_TENTH = Decimal("0.1")
#: An ingredient with more water than this is poured as a liquid and mixes in (our own choice).
LIQUID = Decimal(40)
#: Ways by which the mix is that of the formula.
_EXACT = (
    Way.TAKE_OUT,
    Way.START_AGAIN,
    Way.ENLARGE,
    Way.SHRINK,
    Way.ANOTHER_LOT,
    Way.LATER,
)
_NOT_KNOWN = Barred(
    "not-known",
    "What is in the ingredients is not known well enough to reckon with: give their compositions.",
)


@dataclass(frozen=True, slots=True)
class Asked:
    """What the cook says, and what may be done.

    ``dry``       whether what is too much (or wrong) lies where it can be taken out; ``None`` where
                  nobody said.
    ``holds_g``   the most that the bowl takes of the mix, in grams; ``None`` for not known.
    ``load_g``    what rests on the scale now, the vessel with it; ``None`` for not known.
    ``prices``    of a kilogram, by ingredient, in the user's own currency.
    """

    dry: bool | None = None
    allowed: Allowed = field(default_factory=Allowed)
    holds_g: Decimal | None = None
    load_g: Decimal | None = None
    bands: Mapping[str, Decimal] = field(default_factory=lambda: dict(BANDS))
    kind: str = ""
    served_c: Decimal = SERVED_C
    prices: Mapping[str, Decimal] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Option:
    """One way, and what comes of it.

    ``barred``     why it does not go; ``None`` where it does.
    ``asks``       it goes only if the cook says that it can be taken out.
    ``take_g``     grams to take out: to the target, and to the nearest limit.
    ``becomes_g``  what the batch comes to; ``weighings`` how many it takes more.
    ``adds``       what is added beside what was planned, by number and name, in grams (below zero
                   for less of it).
    ``broken``     the limits that the mix does not keep; ``stays`` whether it keeps all that are
                   known, ``None`` where none are.
    ``cost``       what is added costs, where the prices of all of it are known.
    """

    way: Way
    barred: Barred | None = None
    asks: bool = False
    take_g: tuple[Decimal, Decimal] | None = None
    change: Change | None = None
    additions: tuple[Planned, ...] = ()
    becomes_g: Decimal = _NONE
    weighings: int = 0
    adds: tuple[tuple[str, Decimal], ...] = ()
    mix: Mix | None = None
    broken: tuple[Limit, ...] = ()
    stays: bool | None = None
    effects: tuple[Effect, ...] = ()
    cost: Decimal | None = None
    fight: Fight | None = None
    exact: bool = False


@dataclass(frozen=True, slots=True)
class Options:
    """All ways, the best first. ``plan``: the mix that was planned; ``limits`` what it is held to.

    ``unknown``    quantities that have no limits for want of facts.
    ``dry_asked``  whether it hangs on the cook whether something can be taken out; ``dry_said``:
                   what is taken for granted of it where nobody said, with why.
    """

    state: State
    ways: tuple[Option, ...]
    plan: Mix
    plan_g: Decimal
    limits: tuple[Limit, ...]
    unknown: tuple[str, ...]
    dry_asked: bool
    dry_said: tuple[bool, str] | None


def options(
    state: State, asked: Asked, kinds: Mapping[str, ProductClass], solver: Solver
) -> Options:
    """Every way to put it right, the best first.

    Raises :class:`ConfigError` for a class of product that there is not.
    """
    weigh = _Weigh.of(state, asked, kinds)
    said = _presumed(state)
    dry = asked.dry if asked.dry is not None else (said[0] if said else None)
    found = [
        *_out(state, weigh, dry),
        *(weigh.option(way, one) for way, one in _plain(state)),
        *_searched(state, weigh, solver),
        Option(Way.DISCARD),
    ]
    ways = tuple(sorted(_once(found), key=lambda one: _rank(one, weigh.plan_g)))
    return Options(
        state,
        ways,
        weigh.plan,
        weigh.plan_g,
        tuple(weigh.limits),
        tuple(weigh.unknown),
        state.trouble is not Trouble.RAN_OUT and said is None,
        said if asked.dry is None else None,
    )


def _once(found: Sequence[Option]) -> list[Option]:
    """Ways that come to the same thing are one: the first of them."""
    out: list[Option] = []
    for one in found:
        alike = (it for it in out if it.additions and it.additions == one.additions)
        if not one.additions or one.barred is not None or not any(alike):
            out.append(one)
    return out


def _plain(state: State) -> list[tuple[Way, Change | Barred]]:
    keep = (Way.KEEP, as_it_is(state, Way.KEEP))
    if state.trouble is not Trouble.RAN_OUT:
        return [keep, (Way.ENLARGE, enlarged(state))]
    return [
        *((way, as_it_is(state, way)) for way in (Way.ANOTHER_LOT, Way.LATER)),
        (Way.SHRINK, shrunk(state)),
        keep,
    ]


def _presumed(state: State) -> tuple[bool, str] | None:
    """Whether it can be taken out, where that can be told without asking."""
    if state.trouble is Trouble.RAN_OUT:
        return False, "it ran out"
    if state.current.by_difference:
        return False, "it is in a bowl that is on no scale"
    if not _in_vessel(state):
        return True, "nothing else is in the vessel"
    facts = state.stuffs[state.hand].ingredient.facts
    water = dict(facts.stated).get("water") if facts else None
    if water is not None and water > LIQUID:
        return False, "it is liquid, and is mixed in"
    return None


def _in_vessel(state: State) -> bool:
    """Whether anything else is in the vessel that was poured into."""
    step = state.current.step
    done = state.batch.additions[: len(state.batch.accepted)]
    if step is None:
        return bool(done)
    return any(one.step and one.step.place == step.place for one in done)


def _out(state: State, weigh: _Weigh, dry: bool | None) -> list[Option]:
    """What can be taken out, as far as there is something to take out."""
    if state.trouble is Trouble.RAN_OUT:
        return []
    no = Barred("mixed-in", "It is mixed in or dissolved: nothing comes out of the bowl.")
    if state.trouble is Trouble.OVER:
        target, high = state.current.target_g, state.current.high_g
        take = (state.hand_g - target, max(state.hand_g - high, _NONE))
        grams = dict(weigh.goals)
        one = weigh.made(Way.TAKE_OUT, None, (), grams, take_g=take)
        return [_asking(one, dry, no)]
    back = as_it_is(state, Way.START_AGAIN)
    if isinstance(back, Barred):
        return [Option(Way.START_AGAIN, back)]
    one = weigh.made(
        Way.START_AGAIN, back, coming(state, back), becomes(state, back), take_g=(state.hand_g,) * 2
    )
    return [_asking(one, dry, no)]


def _asking(one: Option, dry: bool | None, no: Barred) -> Option:
    if dry is False:
        return replace(one, barred=no)
    return replace(one, asks=dry is None)


def _searched(state: State, weigh: _Weigh, solver: Solver) -> list[Option]:
    ways = [Way.REBALANCE]
    if len(state.batch.additions) > len(state.batch.accepted) + 1:
        ways.append(Way.LESS)
    if not weigh.limits:
        return [Option(Way.REBALANCE, _NOT_KNOWN)]
    strangers = [one for one in state.besides if not is_known(one.ingredient)]
    if strangers:
        text = f"What is in {strangers[0].ingredient.name} is not known well enough."
        return [Option(Way.REBALANCE, Barred(_NOT_KNOWN.code, text))]
    out: list[Option] = []
    for way in ways:
        allowed = weigh.allowed(less=way is Way.LESS)
        try:
            # Where the second way fails as well, the first need not be explained.
            last = way is ways[-1]
            found = search(state, way, weigh.limits, allowed, solver, explain=last)
        except (OperatorError, SolverError) as error:
            out.append(Option(way, Barred(error.code, error.message)))
            continue
        if isinstance(found, Found):
            one = weigh.option(way, found.change)
            out.append(one)
            continue
        near = weigh.option(way, found.near.change) if found.near else Option(way)
        text = "No addition brings the mix back into its limits."
        if way is Way.LESS:
            text = "Less of what is still to come does not bring the mix back into its limits."
        if last and found.fight is None:
            text = f"{text[:-1]}: all else could be had, but not its freezing point with it."
        out.append(_missed(near, Barred("no-correction-fits", text), found.fight))
    return out


def _missed(near: Option, why: Barred, fight: Fight | None) -> Option:
    return replace(near, barred=near.barred or why, fight=fight)


@dataclass(frozen=True, slots=True)
class _Weigh:
    """What every option is weighed by."""

    state: State
    asked: Asked
    plan: Mix
    limits: Sequence[Limit]
    unknown: Sequence[str]
    goals: Mapping[int, Decimal]

    @classmethod
    def of(cls, state: State, asked: Asked, kinds: Mapping[str, ProductClass]) -> _Weigh:
        plan = planned_mix(state)
        limits, unknown = wanted(plan, kinds, asked.kind, asked.bands)
        goals = {of: max(one.goal_g, one.in_g) for of, one in state.stuffs.items()}
        return cls(state, asked, plan, limits, unknown, goals)

    @property
    def plan_g(self) -> Decimal:
        """What the batch was to come to before this."""
        return sum(self.goals.values(), _NONE)

    def allowed(self, *, less: bool) -> Allowed:
        """What may be done, with the room there is."""
        return replace(self.asked.allowed, less=less, room_g=self.room_g)

    @property
    def there_g(self) -> Decimal:
        return sum((one.there_g for one in self.state.stuffs.values()), _NONE)

    @property
    def room_g(self) -> Decimal | None:
        """How much more the bowl and its scale take."""
        rooms = []
        if self.asked.holds_g is not None:
            rooms.append(max(self.asked.holds_g - self.there_g, _NONE))
        scale = self.state.batch.scales[self.state.current.scale]
        if self.asked.load_g is not None and not self.state.current.by_difference:
            most = most_g(scale)
            if most is not None and all(one.step is None for one in self.state.batch.additions):
                rooms.append(max(most - self.asked.load_g, _NONE))
        return min(rooms) if rooms else None

    def option(self, way: Way, found: Change | Barred) -> Option:
        """A way with everything that follows from it, or why it does not go."""
        if isinstance(found, Barred):
            return Option(way, found)
        grams = becomes(self.state, found)
        pieces = coming(self.state, found)
        one = self.made(way, found, pieces, grams)
        barred = self._too_much(found, pieces, grams)
        if barred is not None:
            return replace(one, barred=barred)
        return one

    def made(
        self,
        way: Way,
        found: Change | None,
        pieces: tuple[Planned, ...],
        grams: Mapping[int, Decimal],
        take_g: tuple[Decimal, Decimal] | None = None,
    ) -> Option:
        state = self.state if found is None else with_others(self.state, found)
        amounts = [(state.stuffs[of].ingredient, one) for of, one in grams.items()]
        mix = mixed(amounts) if any(one > 0 for _, one in amounts) else None
        broken = () if mix is None else tuple(one for one in self.limits if not keeps(one, mix))
        left = len(state.batch.additions) - len(state.batch.accepted)
        adds = []
        cost: Decimal | None = _NONE
        for of, one in grams.items():
            more = one - self.goals.get(of, _NONE)
            if of == self.state.hand or abs(more) < _TENTH / 2:
                continue
            ingredient = state.stuffs[of].ingredient
            adds.append((ingredient.name, more))
            price = self.asked.prices.get(ingredient.id)
            cost = None if price is None or cost is None else cost + price * more / 1000
        return Option(
            way,
            take_g=take_g,
            change=found,
            additions=pieces,
            becomes_g=sum(grams.values(), _NONE),
            weighings=max(len(pieces) - left, 0) if pieces else 0,
            adds=tuple(adds),
            mix=mix,
            broken=broken,
            stays=not broken if self.limits or way in _EXACT else None,
            effects=effects(self.plan, mix, self.asked.served_c) if mix else (),
            cost=cost if self.asked.prices else None,
            exact=way in _EXACT,
        )

    def _too_much(
        self, found: Change, pieces: tuple[Planned, ...], grams: Mapping[int, Decimal]
    ) -> Barred | None:
        state = with_others(self.state, found)
        holds, whole = self.asked.holds_g, sum(grams.values(), _NONE)
        if holds is not None and whole > max(holds, self.there_g):
            return Barred(
                "bowl-too-small",
                f"The bowl takes {_told(holds)} g, and it would be {_told(whole)} g.",
            )
        for of, one in grams.items():
            stuff = state.stuffs[of]
            stock, needs = self.asked.allowed.on_hand.get(stuff.ingredient.id), one - stuff.there_g
            if stock is not None and needs > stock:
                return Barred(
                    "not-enough",
                    f"It takes {_told(needs)} g more of {stuff.ingredient.name}, and "
                    f"{_told(stock)} g are left.",
                )
        scale = state.batch.scales[state.current.scale]
        if self.asked.load_g is not None and pieces and pieces[0].scale == scale.name:
            full = fills(pieces, scale, self.asked.load_g - state.hand_g)
            if full is not None:
                return Barred(
                    "scale-too-small",
                    f"With {next(it.name for it in pieces if it.n == full.n)} it would hold "
                    f"{_told(full.ends_g)} g, and {scale.name} is used up to "
                    f"{_told(full.most_g)} g.",
                )
        return None


def _told(grams: Decimal) -> str:
    return mass.text(mass.rounded(grams, _TENTH))


def _rank(one: Option, plan_g: Decimal) -> tuple[bool, bool, bool, Decimal, int, Decimal]:
    off = _NONE if one.take_g is not None else mass.rounded(abs(one.becomes_g - plan_g), _ONE)
    return (
        one.barred is not None,
        one.way is Way.DISCARD,
        not one.stays,
        off,
        one.weighings,
        one.cost or _NONE,
    )
