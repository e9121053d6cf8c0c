"""What the detector saw in a recording: every reading, and what was made of it.

A trace is data only; ``timeline_text`` tells it in lines and ``timeline_figure`` draws it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from decimal import Decimal
from itertools import pairwise

#: The one scale of a log, which does not name any.
LOG_SCALE = "log"


@dataclass(frozen=True, slots=True)
class Point:
    """One reading of a scale. Masses in grams, ``t`` in seconds from the session's start.

    ``shown_g``  what was displayed; ``None`` without a number.
    ``phase``    the detector's word; ``why`` what disturbs.
    ``level_g``  the display that it claims to be settled, ``firm`` if a record could take it.
    ``sigma_g``  standard uncertainty of that claim: of the net where a tare is known.
    ``tare_g``   what stood there before this addition; ``None`` while that is not known.
    ``part``     the addition under way, as its place in ``Trace.parts``.
    ``stands``   the addition's phase, and the verdict on it where it has one.
    ``cue``      what the cook was told; empty where nothing was.
    ``out``      what leaves the load is what is added (weighed by difference).
    """

    t: float
    shown_g: Decimal | None
    stable: bool | None
    phase: str
    why: str = ""
    level_g: Decimal | None = None
    sigma_g: Decimal | None = None
    firm: bool = False
    tare_g: Decimal | None = None
    part: int | None = None
    stands: str = ""
    cue: str = ""
    out: bool = False


@dataclass(frozen=True, slots=True)
class Part:
    """One addition of the recording, from ``since`` to ``until`` seconds; masses in grams.

    ``n``           its number in the batch, or in the log.
    ``interval_g``  the scale's interval then, where it is known.
    Without a batch the name may be empty, and target and limits unknown.
    """

    n: int
    name: str
    scale: str
    since: float
    until: float
    interval_g: Decimal | None = None
    target_g: Decimal | None = None
    low_g: Decimal | None = None
    high_g: Decimal | None = None


@dataclass(frozen=True, slots=True)
class Mark:
    """Something that was written or asked for: ``kind`` is an entry's kind, or ``refused``."""

    t: float
    kind: str
    text: str
    part: int | None = None


@dataclass(frozen=True, slots=True)
class Gap:
    """A stretch in which a scale could not be heard: ``why`` is ``lost`` or ``silent``."""

    since: float
    until: float
    why: str


@dataclass(slots=True)
class Seen:
    """One scale: its interval in grams (if it is known), readings, and gaps between them."""

    name: str
    interval_g: Decimal | None = None
    points: list[Point] = field(default_factory=list)
    gaps: list[Gap] = field(default_factory=list)


@dataclass(slots=True)
class Trace:
    """A whole recording. ``parts`` and ``marks`` are in order of time; there may be none."""

    name: str
    note: str = ""
    scales: dict[str, Seen] = field(default_factory=dict)
    parts: list[Part] = field(default_factory=list)
    marks: list[Mark] = field(default_factory=list)

    def between(self, since: float, until: float) -> Trace:
        """The same recording with only what happened from ``since`` to ``until`` seconds."""
        return replace(
            self,
            scales={
                name: replace(
                    one,
                    points=[p for p in one.points if since <= p.t <= until],
                    gaps=[
                        Gap(max(g.since, since), min(g.until, until), g.why)
                        for g in one.gaps
                        if g.until > since and g.since < until
                    ],
                )
                for name, one in self.scales.items()
            },
            # None is taken out: points and marks name parts by their place.
            parts=[
                replace(one, since=max(one.since, since), until=min(one.until, until))
                for one in self.parts
            ],
            marks=[one for one in self.marks if since <= one.t <= until],
        )


@dataclass(frozen=True, slots=True)
class Stretch:
    """A run of readings of which the same is said, up to the reading that said otherwise."""

    since: float
    until: float
    word: str
    why: str = ""
    firm: bool = False


@dataclass(frozen=True, slots=True)
class Claimed:
    """A claim that stood unchanged: a display in grams and its standard uncertainty."""

    since: float
    until: float
    level_g: Decimal
    sigma_g: Decimal
    firm: bool
    tare_g: Decimal | None
    out: bool = False


#: A reading stands until the next one, or for this long where none comes.
LASTS_S = 2.0


def stretches(points: Sequence[Point]) -> list[Stretch]:
    """What the detector said, run by run; a settled load is told apart when it is firm."""
    return [
        Stretch(since, until, one.phase, one.why, one.firm)
        for since, until, one in _runs(points, lambda p: (p.phase, p.why, p.firm))
    ]


def standings(points: Sequence[Point]) -> list[Stretch]:
    """How the addition under way stood, run by run."""
    return [
        Stretch(since, until, one.stands)
        for since, until, one in _runs(points, lambda p: (p.part, p.stands))
        if one.stands
    ]


def cues(points: Sequence[Point]) -> list[Stretch]:
    """What the cook was told, run by run."""
    return [
        Stretch(since, until, one.cue)
        for since, until, one in _runs(points, lambda p: (p.part, p.cue))
        if one.cue
    ]


def claims(points: Sequence[Point]) -> list[Claimed]:
    """The claims, each as long as it stood at the same level."""
    return [
        Claimed(since, until, one.level_g, one.sigma_g, one.firm, one.tare_g, one.out)
        for since, until, one in _runs(points, _claim_of)
        if one.level_g is not None and one.sigma_g is not None
    ]


def _claim_of(point: Point) -> tuple[object, ...]:
    if point.level_g is None:
        return ()
    return (point.level_g, point.sigma_g, point.firm, point.tare_g, point.out)


def _runs(
    points: Sequence[Point], key: Callable[[Point], object]
) -> Iterator[tuple[float, float, Point]]:
    """Runs of points of the same key: from the first to the one after, and the first of them."""
    first: Point | None = None
    for here, following in pairwise([*points, None]):
        assert here is not None
        first = first or here
        if following is None:
            yield first.t, here.t, first
        elif following.t - here.t > LASTS_S or key(following) != key(here):
            yield first.t, min(following.t, here.t + LASTS_S), first
            first = None
