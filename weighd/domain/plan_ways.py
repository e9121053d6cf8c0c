"""The choices a plan is made of, and the weighings they come to."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from weighd.domain import fitness, mass
from weighd.domain.formula import FINEST
from weighd.domain.plan import Want, Weighing
from weighd.domain.plan_jobs import Job
from weighd.domain.plan_words import Into, Role
from weighd.domain.splits import Part
from weighd.domain.steps import LIMIT

DISH = Into.DISH
_NOTHING = Decimal(0)


@dataclass(frozen=True, slots=True)
class Choice:
    """What is done next: so many jobs on a scale, into the bowl or one dish, or one in parts.

    ``bowl``  the scale that the bowl stands on afterwards; ``None`` for none.
    """

    scale: str
    jobs: int
    bowl: str | None
    into: Into = Into.BOWL
    parts: tuple[Part, ...] = ()


def weighings(
    jobs: Sequence[Job],
    choices: Sequence[Choice],
    wanted: Sequence[Want],
    look: Callable[[int, str, int], tuple[Decimal, bool]],
) -> Iterator[Weighing]:
    """The weighings that choices come to, dishes numbered from 1.

    ``look``  the share of its tolerance that a job loses on a scale in so many parts, and whether
              the scale is fit for it.
    """
    names = {one.n: one.name for one in wanted}
    i = dish = 0
    for choice in choices:
        job = jobs[i]
        if job.made is not None:
            yield from _premix(job, names)
        elif choice.parts:
            for one in _parts(job, choice, *look(i, choice.scale, len(choice.parts))):
                dish += one.into is Into.DISH
                yield replace(one, vessel=dish if one.into is Into.DISH else 0)
        else:
            dish += choice.into is Into.DISH
            for j in range(i, i + choice.jobs):
                share, fit = look(j, choice.scale, 1)
                vessel = {Into.DISH: dish, Into.SOURCE: jobs[j].want.n}.get(choice.into, 0)
                yield _whole(jobs[j], choice, vessel, share, fit)
        i += choice.jobs


def _whole(job: Job, choice: Choice, vessel: int, share: Decimal, fit: bool) -> Weighing:
    one = Weighing(
        job.want.n,
        job.want.name,
        choice.scale,
        choice.into,
        vessel,
        job.target_g,
        job.low_g,
        job.high_g,
        share,
        fit,
        job.role,
        premix=job.premix,
    )
    return one if job.role is Role.WHOLE else _readable(one)


def _parts(job: Job, choice: Choice, share: Decimal, fit: bool) -> Iterator[Weighing]:
    done = _NOTHING
    for n, part in enumerate(choice.parts, start=1):
        last = n == len(choice.parts)
        low, high = part.target_g - part.rough_g, part.target_g + part.rough_g
        if last:
            low, high = job.low_g - done, job.high_g - done
        done += part.target_g
        yield _readable(
            Weighing(
                job.want.n,
                job.want.name,
                choice.scale,
                part.into,
                0,
                part.target_g,
                low,
                high,
                share if last else _NOTHING,
                fit or not last,
                Role.PART,
                n,
                len(choice.parts),
            )
        )


def _premix(job: Job, names: dict[int, str]) -> Iterator[Weighing]:
    made = job.made
    assert made is not None
    for of, grams, role in (
        (made.of, made.part_g, Role.PREMIX),
        (made.carrier_of, made.carrier_g, Role.CARRIER),
    ):
        rough = grams * fitness.ROUGH
        yield _readable(
            Weighing(
                of,
                names[of],
                made.scale,
                Into.PREMIX,
                made.n,
                grams,
                grams - rough,
                grams + rough,
                _NOTHING,
                role=role,
                premix=made.n,
            )
        )


def _readable(one: Weighing) -> Weighing:
    """With as many decimals as can be read."""
    return replace(
        one,
        target_g=mass.short(one.target_g, FINEST),
        low_g=mass.short(one.low_g, LIMIT),
        high_g=mass.short(one.high_g, LIMIT),
    )
