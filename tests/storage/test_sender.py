"""The sender beside a daemon: it waits, tries again, and tells how far behind it is."""

from __future__ import annotations

import json
import random
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path

import pytest

from tests.line import SWALLOW, Line
from tests.servers import Postgres, wait_until
from tests.storage.entries import STATION
from tests.storage.kitchens import kitchen, weigh
from tests.storage.shared_store import emptied
from tests.storage.test_outbox import moved, port_of
from weighd.clock import SystemClock
from weighd.config import parse
from weighd.domain.errors import ConfigError
from weighd.main.sending import Pace, Sender, address_of, open_shared, with_store
from weighd.station.outgoing import Going, Outgoing
from weighd.storage.address import read_address
from weighd.storage.journal import SqlJournal
from weighd.storage.postgres import PostgresStore

QUICK = Pace(call_s=0.05, first_s=0.05, longest_s=0.2, keep_s=0)


@pytest.fixture(scope="module")
def address(postgres: Postgres) -> str:
    return postgres.create("sender")


@pytest.fixture
def store(address: str) -> Iterator[PostgresStore]:
    opened = emptied(address)
    yield opened
    opened.close()


@pytest.fixture
def own(tmp_path: Path) -> Iterator[SqlJournal]:
    journal = kitchen(tmp_path, STATION, 2)
    yield journal
    journal.close()


class Sending:
    """A sender with what it told."""

    def __init__(self, own: SqlJournal, address: str, kept: Path | None = None) -> None:
        self.told: list[Outgoing] = []
        options = {"kept": kept, "pace": QUICK, "dice": random.Random(1)}
        self.sender = Sender(own, read_address(address), SystemClock(), **options)  # type: ignore[arg-type]

    def __enter__(self) -> Sending:
        self.sender.start(lambda: self.told.append(self.sender.now))
        return self

    def __exit__(self, *_: object) -> None:
        self.sender.stop(10)

    def until(self, true: Callable[[Outgoing], bool], what: str) -> Outgoing:
        wait_until(lambda: true(self.sender.now), what)
        return self.sender.now


def test_it_sends_what_there_is_and_what_comes(own: SqlJournal, store: PostgresStore) -> None:
    there = SqlJournal(store, STATION)
    with Sending(own, store_address(store)) as it:
        assert it.told == []
        assert it.sender.now.state in (Going.BEHIND, Going.CURRENT)
        it.until(lambda now: now.state is Going.CURRENT and now.contact != "", "all is sent")
        assert there.tail() == own.tail()
        weigh(own, 2, 1)
        wait_until(lambda: there.tail() == own.tail(), "a batch more is sent")
        now = it.until(lambda now: now.behind == 0, "it knows it")
    assert (now.code, now.why, now.since) == ("", "", "")
    json.dumps(now.as_json())


def store_address(store: PostgresStore) -> str:
    options = store.address.options
    return f"postgresql://{options['user']}@{options['host']}:{options['port']}/{options['dbname']}"


def test_without_a_network_it_counts_and_after_a_restart_it_still_knows(
    own: SqlJournal, store: PostgresStore, address: str, tmp_path: Path
) -> None:
    kept = tmp_path / "shared.json"
    with Line(port_of(address)) as line:
        through = moved(address, line.port)
        with Sending(own, through, kept) as it:
            it.until(lambda now: now.state is Going.CURRENT and now.contact != "", "all is sent")
            sent = own.tail().seq
            line.to = 1  # nobody listens there
            line.cut()
            it.until(lambda now: now.code == "store-away", "it is noticed")
            assert it.sender.now.state is Going.CURRENT  # nothing waits
            weigh(own, 2, 1)
            now = it.until(lambda now: now.behind == own.tail().seq - sent, "it counts")
            (oldest,) = own.entries(after=sent, limit=1)
            assert (now.state, now.since) == (Going.BEHIND, oldest.at)
            assert "own record" in now.why
        with Sending(own, through, kept) as it:
            assert (it.sender.now.behind, it.sender.now.contact) == (now.behind, now.contact)
            line.to = port_of(address)
            it.until(lambda now: now.state is Going.CURRENT and not now.code, "it goes on")
    assert SqlJournal(store, STATION).tail() == own.tail()
    # What is kept of another store, or of a record that was put back, is not believed.
    other = Sending(own, address.replace("/sender", "/other"), kept)
    assert other.sender.now.behind == own.tail().seq
    kept.write_text('{"store": 1')
    assert Sending(own, through, kept).sender.now.behind == own.tail().seq


def test_a_network_that_hangs_holds_up_nothing(
    own: SqlJournal, store: PostgresStore, address: str
) -> None:
    with Line(port_of(address)) as line, Sending(own, moved(address, line.port)) as it:
        it.until(lambda now: now.state is Going.CURRENT and now.contact != "", "all is sent")
        line.rule = lambda up, chunk: SWALLOW
        sent = own.tail().seq
        weigh(own, 2, 1)  # the sender waits for an answer that never comes; this does not
        assert own.tail().seq > sent
        it.sender.stop(0.1)
        assert SqlJournal(store, STATION).tail().seq == sent
        line.rule = None
        line.cut()  # lets the thread end


def test_a_fork_stops_it_and_it_goes_on_once_that_is_put_right(
    own: SqlJournal, store: PostgresStore, tmp_path: Path
) -> None:
    with closing(kitchen(tmp_path / "other", STATION, 3)) as other:
        with Sending(other, store_address(store)) as it:
            it.until(lambda now: now.contact != "" and not now.behind, "the other is there first")
        with Sending(own, store_address(store)) as it:
            now = it.until(lambda now: now.code != "", "it is told")
            assert (now.code, now.state) == ("shared-ahead", Going.STOPPED)
            assert now.behind == own.tail().seq
            assert "rename one" in now.why
            emptied(store_address(store)).close()
            it.until(lambda now: now.state is Going.CURRENT, "it goes on")
    assert SqlJournal(store, STATION).tail() == own.tail()


def test_what_is_configured_is_checked_and_no_password_stands_in_a_command(tmp_path: Path) -> None:
    assert address_of(parse("")) is None
    (tmp_path / "pass").write_text("s3cret\n")
    text = '[shared]\nstore = "postgresql://bench@db/floor"\npassword_file = "pass"\n'
    found = address_of(parse(text, tmp_path / "weighd.toml"))
    assert found is not None and found.secret == "s3cret"
    for wrong, at in (
        ('[shared]\nstore = "mysql://db/floor"', "line 2, shared.store"),
        ('[shared]\nstore = "postgresql://db:port/floor"', "line 2, shared.store"),
        ('[shared]\nstore = "postgresql://db/floor"\npassword_file = "none"', "line 3"),
        ("[shared]\nstore = 5", "line 2, shared.store"),
    ):
        with pytest.raises(ConfigError) as caught:
            address_of(parse(wrong, tmp_path / "weighd.toml"))
        assert at in str(caught.value)
    assert with_store(parse(""), "postgresql://db/floor").shared.store == "postgresql://db/floor"
    for wrong, code in (
        ("postgresql://bench:s3cret@db/floor", "password-on-command-line"),
        ("floor.db", "store-address"),
    ):
        with pytest.raises(ConfigError) as caught:
            with_store(parse(""), wrong)
        assert caught.value.code == code
        assert "s3cret" not in str(caught.value)


def test_without_the_library_it_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    import sys

    from weighd.domain.errors import JournalError

    monkeypatch.setitem(sys.modules, "weighd.storage.postgres", None)
    with pytest.raises(JournalError, match="pip install") as caught:
        open_shared(read_address("postgresql://db/floor"))
    assert caught.value.code == "needs-extra"
