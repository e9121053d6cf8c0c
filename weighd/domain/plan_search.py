"""Finding the best weighing plan (what "best" is, ``plan`` says).

Dynamic programming from the last amount to the first. All that the rest of a plan depends on is
how many amounts are done and which scale the bowl stands on, if any: what is in the bowl follows
from the first, and a dish is always empty between two runs. From each such place the plan goes on
by pouring the next amount into the bowl, by weighing the next few in a dish, by a split, or by
making a premix; costs add up, so the best way on from a place does not depend on how it was
reached. Tests compare it with a search of all plans.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from decimal import Decimal

from weighd.domain import fitness, mass
from weighd.domain.batch import Scale
from weighd.domain.errors import OperatorError
from weighd.domain.metrology import Rule
from weighd.domain.plan import Cost, Plan, Vessels, Want
from weighd.domain.plan_jobs import Job, jobs, premixes_for
from weighd.domain.plan_short import judged_somehow, shortfall
from weighd.domain.plan_ways import DISH, Choice, weighings
from weighd.domain.plan_words import Into, Role
from weighd.domain.splits import splits

_NOTHING = Decimal(0)
#: Shares are compared to this: their sums are then exact, in whatever order they are made.
_SHARE = Decimal("1e-9")
#: unfit, unfit share, moves, share: as in :class:`~weighd.domain.plan.Cost`.
_Cost = tuple[int, Decimal, int, Decimal]
_FREE: _Cost = (0, _NOTHING, 0, _NOTHING)
#: Where the bowl stands: on a scale, or on none.
_Bowl = str | None


def best_plan(
    wanted: Sequence[Want],
    scales: Sequence[Scale],
    rule: Rule,
    vessels: Vessels | None = None,
) -> Plan:
    """The best plan for these amounts on these scales, at least one of each.

    Raises :class:`OperatorError`, ``over-capacity``, where an amount can be held by no scale, in
    however many parts.
    """
    vessels, scales = vessels or Vessels(), _two_alike(scales)
    short = [one for one in wanted if not judged_somehow(one, scales, rule, vessels)]
    premixes = premixes_for(short, wanted, scales, rule, vessels)
    todo = tuple(jobs(wanted, premixes, scales))
    search = _Search(todo, scales, rule, vessels)
    cost, choices = search.run()
    mixed = {it.of for it in premixes}
    return Plan(
        tuple(weighings(todo, choices, wanted, search.look)),
        Cost(*cost),
        vessels,
        premixes,
        tuple(shortfall(one, wanted, scales, rule, vessels) for one in short if one.n not in mixed),
    )


def _two_alike(scales: Sequence[Scale]) -> tuple[Scale, ...]:
    """The scales without those that two others before equal in everything.

    The bowl stands on one scale at a time and a dish on another, so a third of a kind adds nothing.
    """
    seen: dict[object, int] = {}
    out = []
    for one in scales:
        kind = (one.interval_g, one.max_g, one.min_g, one.accuracy)
        seen[kind] = seen.get(kind, 0) + 1
        if seen[kind] <= 2:
            out.append(one)
    return tuple(out)


class _Search:
    """The search itself. Costs are tuples here, compared in the order of their figures."""

    def __init__(
        self, todo: Sequence[Job], scales: Sequence[Scale], rule: Rule, vessels: Vessels
    ) -> None:
        self._jobs = todo
        self._scales = {one.name: one for one in scales}
        self._rule = rule
        self._vessels = vessels
        self._before = [_NOTHING]
        for job in todo:
            self._before.append(self._before[-1] + job.target_g)
        self._looked: dict[tuple[int, str, int], tuple[Decimal, bool]] = {}
        #: For each number of jobs done, what the rest costs by where the bowl stands, and how.
        self._best: list[dict[_Bowl, tuple[_Cost, Choice | None]]] = []

    def run(self) -> tuple[_Cost, tuple[Choice, ...]]:
        """The cost of the best plan and the choices that make it, in order.

        Raises :class:`OperatorError` where an amount can be held nowhere.
        """
        places: list[_Bowl] = [None, *self._scales]
        self._best = [{} for _ in range(len(self._jobs) + 1)]
        self._best[-1] = dict.fromkeys(places, (_FREE, None))
        for i in range(len(self._jobs) - 1, -1, -1):
            self._place(i, places)
            if None not in self._best[i]:
                raise self._nowhere(i)
        return self._best[0][None][0], tuple(self._follow())

    def look(self, i: int, scale: str, parts: int = 1) -> tuple[Decimal, bool]:
        """How much of its tolerance a scale takes up of an amount, and whether it is fit for it."""
        key = (i, scale, parts)
        if key not in self._looked:
            job, its = self._jobs[i], self._scales[scale]
            share = fitness.share(
                its, self._rule, job.low_g, job.high_g, parts=parts, carried_u_g=job.carried_u_g
            )
            fit = share <= 1 and fitness.above_min(its, job.target_g / parts)
            self._looked[key] = share, fit
        return self._looked[key]

    def _follow(self) -> Iterator[Choice]:
        i = 0
        bowl: _Bowl = None
        while (choice := self._best[i][bowl][1]) is not None:
            yield choice
            i, bowl = i + choice.jobs, choice.bowl

    def _place(self, i: int, places: Sequence[_Bowl]) -> None:
        """The best way on from each place of the bowl, with so many jobs done."""
        job = self._jobs[i]
        for bowl in places:
            if job.made is not None:
                away = None if bowl == job.made.scale else bowl
                self._offer(i, bowl, (0, _NOTHING, 3, _NOTHING), Choice(job.made.scale, 1, away))
            elif job.want.by_difference:
                self._from_source(i, bowl)
            else:
                self._into_bowl(i, bowl)
        if job.made is None and not job.want.by_difference:
            self._into_dish(i, places)

    def _from_source(self, i: int, bowl: _Bowl) -> None:
        """Its own vessel is set down; where the bowl stands there, that has to go."""
        for name, scale in self._scales.items():
            if scale.max_g is not None and self._jobs[i].target_g > scale.max_g:
                continue  # it cannot stand there with all that is to leave it
            away = None if bowl == name else bowl
            cost = _plus(self._cost(i, name), (0, _NOTHING, 1, _NOTHING))
            self._offer(i, bowl, cost, Choice(name, 1, away, into=Into.SOURCE))

    def _into_bowl(self, i: int, bowl: _Bowl) -> None:
        """Where the bowl takes it; or in parts, where a dish does not."""
        job = self._jobs[i]
        for name, scale in self._scales.items():
            if self._bowl_holds(scale, i, job.high_g):
                moves = (0, _NOTHING, int(bowl != name), _NOTHING)
                self._offer(i, bowl, _plus(self._cost(i, name), moves), Choice(name, 1, name))
            if job.role is Role.WHOLE:
                self._split(i, scale, bowl)

    def _into_dish(self, i: int, places: Sequence[_Bowl]) -> None:
        """The next amounts in one dish: on the best scale but the bowl's, or there without it."""
        for n, costs in self._runs(i).items():
            best = sorted(costs, key=costs.__getitem__)[:2]
            for bowl in places:
                for name in best:
                    if name != bowl:
                        self._offer(i, bowl, costs[name], Choice(name, n, bowl, into=DISH))
                        break
                if bowl is not None and bowl in costs:
                    self._offer(i, bowl, costs[bowl], Choice(bowl, n, None, into=DISH))

    def _offer(self, i: int, bowl: _Bowl, cost: _Cost, choice: Choice) -> None:
        """Keep a way on from a place if it is the best so far."""
        # From wherever the bowl stands there is a way on, since there is one with the bowl away.
        cost = _plus(cost, self._best[i + choice.jobs][choice.bowl][0])
        known = self._best[i].get(bowl)
        if known is None or cost < known[0]:
            self._best[i][bowl] = cost, choice

    def _bowl_holds(self, scale: Scale, i: int, more_g: Decimal) -> bool:
        return self._vessels.bowl_takes(scale, self._before[i] + more_g)

    def _runs(self, i: int) -> Mapping[int, Mapping[str, _Cost]]:
        """What the next so many amounts cost in one dish, by their number and the scale."""
        out: dict[int, dict[str, _Cost]] = {}
        for name, scale in self._scales.items():
            cost: _Cost = (0, _NOTHING, 2, _NOTHING)
            inside = _NOTHING
            for j in range(i, len(self._jobs)):
                job = self._jobs[j]
                alone = job.made is not None or job.want.by_difference
                if alone or not self._vessels.dish_takes(scale, inside + job.high_g):
                    break
                inside += job.target_g
                cost = _plus(cost, self._cost(j, name))
                out.setdefault(j + 1 - i, {})[name] = cost
        return out

    def _cost(self, i: int, scale: str, parts: int = 1) -> _Cost:
        share, fit = self.look(i, scale, parts)
        if share.is_finite():
            share = share.quantize(_SHARE)
        return (0, _NOTHING, 0, share) if fit else (1, share, 0, _NOTHING)

    def _split(self, i: int, scale: Scale, bowl: _Bowl) -> None:
        """An amount in parts on one scale, in dishes, or begun in the bowl."""
        job, its = self._jobs[i], self._vessels
        rooms = its.bowl_room_g(scale, self._before[i]), its.dish_room_g(scale)
        for parts in splits(scale, job.target_g, job.high_g, *rooms):
            at, moves = bowl, len(parts) - 1
            for part in parts:
                if part.into is Into.BOWL:
                    moves += at != scale.name
                    at = scale.name
                else:
                    moves += 2
                    at = None if at == scale.name else at
            cost = _plus(self._cost(i, scale.name, len(parts)), (0, _NOTHING, moves, _NOTHING))
            self._offer(i, bowl, cost, Choice(scale.name, 1, at, parts=parts))

    def _nowhere(self, i: int) -> OperatorError:
        want = self._jobs[i].want
        largest = max(self._scales.values(), key=lambda it: it.max_g or 0)
        if want.by_difference:
            return OperatorError(
                "over-capacity",
                f"{mass.text(want.target_g)} g of {want.name} are more than the scale "
                f"{largest.name} can weigh ({mass.text(largest.max_g or _NOTHING)} g).",
                remedy="Make a smaller batch.",
            )
        return OperatorError(
            "over-capacity",
            f"{mass.text(want.target_g)} g of {want.name} are more than any scale here can weigh, "
            f"even in parts: the largest, {largest.name}, holds {largest.max_g} g with the vessel, "
            f"and some room is kept below that.",
            remedy="Make a smaller batch, or use a lighter dish or a larger scale.",
        )


def _plus(one: _Cost, other: _Cost) -> _Cost:
    """Two costs together: sums, and the worse of the shares."""
    return (
        one[0] + other[0],
        one[1] + other[1],
        one[2] + other[2],
        max(one[3], other[3]),
    )
