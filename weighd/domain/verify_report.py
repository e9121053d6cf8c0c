"""What a verification found."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from weighd.domain.signing import Head


@dataclass(slots=True)
class Report:
    """What a verification found. ``unread``: decoders that are not installed here.

    ``signed``   how many batches each key signed; ``unsigned``: entries that end a batch, or are
                 added to one that is over, and are not signed;
    ``lots``     how many were received, each with its entries made again;
    ``under``    the head of a journal that a batch was shown to belong to;
    ``steps``    doings of steps after weighing that were judged again; ``in_process``: batches that
                 have some to come;
    ``flagged``  weighings on a scale whose check had failed, was overdue or was never made;
    ``doubted``  those on a scale that failed the next check;
    ``countersigned``  how often a second person signed;
    ``away``     batches that were put away, ``archives`` where, with the SHA-256 of each;
    ``set_back``  entries with an earlier time than the one before them: a clock was set back;
    ``clock_doubted``  entries that say that their clock was in doubt.
    """

    entries: int = 0
    batches: int = 0
    open_batches: int = 0
    weighings: int = 0
    checks: int = 0
    flagged: int = 0
    doubted: int = 0
    unread: set[str] = field(default_factory=set)
    signed: Mapping[str, int] = field(default_factory=dict)
    unsigned: int = 0
    under: Head | None = None
    lots: int = 0
    steps: int = 0
    in_process: int = 0
    countersigned: int = 0
    away: int = 0
    archives: Mapping[str, str] = field(default_factory=dict)
    set_back: int = 0
    clock_doubted: int = 0

    def and_also(self, other: Report) -> Report:
        """Both together."""
        return Report(
            self.entries + other.entries,
            self.batches + other.batches,
            self.open_batches + other.open_batches,
            self.weighings + other.weighings,
            self.checks + other.checks,
            self.flagged + other.flagged,
            self.doubted + other.doubted,
            self.unread | other.unread,
            {
                key: self.signed.get(key, 0) + other.signed.get(key, 0)
                for key in (*self.signed, *other.signed)
            },
            self.unsigned + other.unsigned,
            self.under or other.under,
            self.lots + other.lots,
            self.steps + other.steps,
            self.in_process + other.in_process,
            self.countersigned + other.countersigned,
            self.away + other.away,
            {**self.archives, **other.archives},
            self.set_back + other.set_back,
            self.clock_doubted + other.clock_doubted,
        )
