"""Which revision each batch was opened with, by every journal that there is."""

from __future__ import annotations

from tests.storage.entries import Chain
from tests.storage.test_contract import address, journal  # noqa: F401 -- fixtures
from weighd.domain.away import stub_of
from weighd.station.ports import Journal, Opening
from weighd.storage.memory import MemoryJournal


def formula(identity: str, revision: str) -> dict[str, object]:
    return {"id": identity, "name": "Test ice", "revision": revision, "content": {}}


def test_batches_of_a_formula_are_told_with_their_revisions(journal: Journal) -> None:  # noqa: F811
    chain = Chain()
    for n, (identity, revision) in enumerate(
        [("test-ice", "aa11"), ("other-ice", "bb22"), ("test-ice", "aa11"), ("test-ice", "cc33")]
    ):
        opened = chain.opening(f"kitchen-{n:04}", formula=formula(identity, revision))
        journal.append([opened, *(chain.weighing(f"kitchen-{n:04}", k) for k in (1, 2))])
    told = list(journal.openings("test-ice"))
    assert [(one.batch, one.by, one.revision) for one in told] == [
        ("kitchen-0000", "Ada", "aa11"),
        ("kitchen-0002", "Ada", "aa11"),
        ("kitchen-0003", "Ada", "cc33"),
    ]
    assert told[0].at < told[1].at < told[2].at
    assert list(journal.openings("no-ice")) == []


def test_of_a_batch_that_was_put_away_the_revision_is_not_known() -> None:
    chain, made = Chain(), MemoryJournal("kitchen")
    opened = chain.opening("kitchen-0001")
    made.append([opened])
    made._entries[:] = [stub_of(opened, "old.archive")]
    assert made.openings("test-ice") == [Opening("kitchen-0001", opened.at, "Ada", "")]


def test_entries_are_counted_by_kind_by_what_was_said_and_by_scale(journal: Journal) -> None:  # noqa: F811
    chain = Chain()
    for n, verdict in enumerate(("on target", "over", "on target")):
        name, more = f"kitchen-{n:04}", {"verdict": verdict, "scale": "bench"}
        journal.append([chain.opening(name), *(chain.weighing(name, k, **more) for k in (1, 2))])
    journal.append([chain.check("bench"), chain.check("fine", "fail"), chain.check("fine", "fail")])
    upto, rows = journal.tally(["batch opened", "addition accepted", "scale checked"])
    assert upto == journal.tail().seq
    assert sorted(rows) == [
        ("addition accepted", "on target", "bench", 4),
        ("addition accepted", "over", "bench", 2),
        ("batch opened", "", "", 3),
        ("scale checked", "fail", "fine", 2),
        ("scale checked", "pass", "bench", 1),
    ]
    assert list(journal.tally(["no kind"]).rows) == []
