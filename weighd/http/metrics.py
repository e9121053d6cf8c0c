"""What a monitoring system may want to know, in the text format of Prometheus.

Counts of what was recorded come from the record itself: the entries that are new since the last
look are counted, so that a restart loses nothing and nothing needs to be told twice.
"""

from __future__ import annotations

import threading
from collections import Counter
from collections.abc import Iterator
from datetime import datetime

from prometheus_client import CONTENT_TYPE_LATEST, CollectorRegistry, generate_latest
from prometheus_client.core import CounterMetricFamily, GaugeMetricFamily, Metric
from prometheus_client.registry import Collector

from weighd.domain.batch import Kind
from weighd.domain.check_record import CHECKED, is_check
from weighd.domain.check_standing import Outcome, Standing
from weighd.domain.errors import JournalError
from weighd.domain.metrology import Verdict
from weighd.http.live import Live
from weighd.station.ports import Journal
from weighd.station.runner import Runner
from weighd.station.scale import LinkState

CONTENT_TYPE = CONTENT_TYPE_LATEST
_BATCHES = {Kind.OPENED: "opened", Kind.CLOSED: "closed", Kind.ABANDONED: "abandoned"}


class Metrics(Collector):
    """The metrics of one station."""

    def __init__(self, runner: Runner, journal: Journal, live: Live) -> None:
        self._runner = runner
        self._journal = journal
        self._live = live
        self._turn = threading.Lock()
        self._counted = 0
        self._verdicts: Counter[str] = Counter()
        self._batches: Counter[str] = Counter()
        self._checks: Counter[tuple[str, str]] = Counter()
        self._store_error: JournalError | None = None
        self.store_errors = 0
        self._registry = CollectorRegistry()
        self._registry.register(self)

    def note(self) -> None:
        """Count an error of the store when it is a new one; told of every change."""
        error = self._runner.station.store_error
        if error is not None and error is not self._store_error:
            self.store_errors += 1
        self._store_error = error

    def catch_up(self) -> None:
        """Count the entries made since the last look. Blocks: reads the journal.

        Raises :class:`JournalError`; what was counted stays counted.
        """
        with self._turn:
            if not self._counted:  # a long record is counted by the database, in seconds
                self._counted, rows = self._journal.tally((Kind.ACCEPTED, CHECKED, *_BATCHES))
                for told in rows:
                    self._count(*told)
            for entry in self._journal.entries(after=self._counted):
                if entry.kind == Kind.ACCEPTED:
                    self._count(entry.kind, str(entry.body.get("verdict")), "")
                elif is_check(entry):
                    self._count(entry.kind, str(entry.body["outcome"]), str(entry.body["scale"]))
                else:
                    self._count(entry.kind, "", "")
                self._counted = entry.seq

    def _count(self, kind: str, said: str, scale: str, n: int = 1) -> None:
        if kind == Kind.ACCEPTED:
            self._verdicts[said] += n
        elif kind == CHECKED:
            self._checks[scale, said] += n
        elif kind in _BATCHES:
            self._batches[_BATCHES[Kind(kind)]] += n

    def text(self) -> bytes:
        """Everything, as Prometheus reads it."""
        return generate_latest(self._registry)

    def collect(self) -> Iterator[Metric]:
        """The metrics as they stand."""
        yield from self._of_scales()
        yield from self._of_sharing()
        yield from self._of_lots()
        batches = CounterMetricFamily(
            "weighd_batches", "Batches by what became of them.", labels=["event"]
        )
        for event in _BATCHES.values():
            batches.add_metric([event], self._batches[event])
        yield batches
        additions = CounterMetricFamily(
            "weighd_additions", "Additions accepted, by verdict.", labels=["verdict"]
        )
        for verdict in {*map(str, Verdict), *self._verdicts}:
            additions.add_metric([verdict], self._verdicts[verdict])
        yield additions
        yield CounterMetricFamily(
            "weighd_store_errors", "Entries that could not be written.", value=self.store_errors
        )
        yield GaugeMetricFamily(
            "weighd_store_ok",
            "Whether the last entry could be written.",
            value=float(self._runner.station.store_error is None),
        )
        yield CounterMetricFamily(
            "weighd_inputs_dropped",
            "Inputs of scales that were dropped because the store did not keep up.",
            value=self._runner.dropped,
        )
        yield GaugeMetricFamily(
            "weighd_websocket_clients", "Pages and programs that listen.", value=self._live.clients
        )
        yield CounterMetricFamily(
            "weighd_websocket_clients_cut",
            "Clients cut because they took no frame in time.",
            value=self._live.cut,
        )

    def _of_lots(self) -> Iterator[Metric]:
        stock = self._runner.station.stock
        if not stock.sharing:
            return
        over = sum(1 for one in stock.book if one.over_g and one.elsewhere)
        yield GaugeMetricFamily(
            "weighd_lots_overdrawn",
            "Lots of which stations together drew more than there was.",
            value=over,
        )
        if stock.heard_at:
            yield GaugeMetricFamily(
                "weighd_shared_heard_timestamp_seconds",
                "When other stations were heard of last, seconds since 1970.",
                value=datetime.fromisoformat(stock.heard_at).timestamp(),
            )

    def _of_sharing(self) -> Iterator[Metric]:
        outgoing = self._runner.picture.sharing()
        if outgoing is None:
            return
        yield GaugeMetricFamily(
            "weighd_shared_behind",
            "Entries that the shared store does not have yet.",
            value=outgoing.behind,
        )
        yield GaugeMetricFamily(
            "weighd_shared_ok",
            "Whether its last contact went well.",
            value=float(not outgoing.code),
        )
        times = (
            (
                "weighd_shared_contact_timestamp_seconds",
                "When it was last heard, seconds since 1970.",
                outgoing.contact,
            ),
            (
                "weighd_shared_oldest_timestamp_seconds",
                "When the oldest entry that it does not have was made, seconds since 1970.",
                outgoing.since,
            ),
        )
        for name, about, at in times:
            if at:
                yield GaugeMetricFamily(name, about, value=datetime.fromisoformat(at).timestamp())

    def _of_scales(self) -> Iterator[Metric]:
        readings = CounterMetricFamily(
            "weighd_readings", "Readings decoded since the start.", labels=["scale"]
        )
        rejected = CounterMetricFamily(
            "weighd_rejected", "What a scale sent and could not be read.", labels=["scale"]
        )
        link = GaugeMetricFamily(
            "weighd_scale_link", "1 for the present state of the link.", labels=["scale", "state"]
        )
        for name, scale in self._runner.station.scales.items():
            readings.add_metric([name], scale.readings)
            rejected.add_metric([name], scale.setup.decoder.rejected)
            for state in LinkState:
                link.add_metric([name, state], float(scale.link is state))
        yield readings
        yield rejected
        yield link
        yield from self._of_checks()

    def _of_checks(self) -> Iterator[Metric]:
        station = self._runner.station
        made = CounterMetricFamily(
            "weighd_checks", "Checks of scales, by outcome.", labels=["scale", "outcome"]
        )
        good = GaugeMetricFamily(
            "weighd_scale_check_good",
            "Whether the scale passed its newest check and that is not overdue.",
            labels=["scale"],
        )
        for name in station.scales:
            stands = station.checking.standing(station, name)
            if stands is None:
                continue
            good.add_metric([name], float(stands is Standing.GOOD))
            for outcome in Outcome:
                made.add_metric([name, outcome], self._checks[name, str(outcome)])
        yield made
        yield good
