"""``weighd share``, and commands that take a shared store's address where they take a file.

They run in this process, since each start of Python would cost a second.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

import pytest
from sqlalchemy import delete, update

from tests.servers import Postgres, free_port
from tests.storage.kitchens import kitchen
from weighd.cli.app import main
from weighd.storage.address import read_address
from weighd.storage.journal import SqlJournal
from weighd.storage.postgres import PostgresStore
from weighd.storage.schema import ENTRY, SIGNATURE


class Done(NamedTuple):
    code: int
    out: str
    err: str


Call = Callable[..., Done]


@pytest.fixture
def call(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> Call:
    """One call of the command line."""

    def ask(*args: object) -> Done:
        monkeypatch.setattr(sys, "argv", ["weighd", *map(str, args)])
        with pytest.raises(SystemExit) as ended:
            main()
        out, err = capsys.readouterr()
        return Done(int(ended.value.code or 0), out, err)

    return ask


@pytest.fixture(scope="module")
def bench(postgres: Postgres) -> str:
    """The address of a database without tables, for a role that owns nothing there."""
    postgres.create("share")
    postgres.ask("CREATE ROLE bench LOGIN")
    return postgres.url("share").replace("weighd@", "bench@")


@pytest.fixture(scope="module")
def place(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two stations' folders, each with a configuration and a record."""
    folder = tmp_path_factory.mktemp("stations")
    for station, batches in (("mill", 2), ("kitchen", 4)):
        kitchen(folder, station, batches).close()
        text = f'[station]\nname = "{station}"\ndata = "{station}"\n'
        (folder / f"{station}.toml").write_text(text)
    return folder


def test_set_up_send_and_ask(
    call: Call, place: Path, bench: str, postgres: Postgres, monkeypatch: pytest.MonkeyPatch
) -> None:
    own = ("--config", place / "kitchen.toml")
    none = call("share", *own)
    assert (none.code, "No shared store is configured" in none.err) == (2, True)
    empty = call("share", bench, *own, "--now")
    assert (empty.code, "--set-up" in empty.err) == (4, True)
    owner = postgres.url("share")
    refused = call("share", owner, *own, "--set-up", "--grant", "nobody")
    assert (refused.code, "nobody" in refused.err) == (4, True)
    made = call("share", owner, *own, "--set-up", "--grant", "bench")
    assert (made.code, made.out.splitlines()[0]) == (0, f"{owner} is ready.")
    behind = call("share", bench, *own)
    assert (behind.code, "are not there yet, the oldest of 2" in behind.out) == (1, True)
    told = json.loads(call("share", bench, *own, "--json").out)
    assert told["station"] == "kitchen" and told["behind"] == told["here"] > 30
    for station in ("kitchen", "mill"):
        sent = call("share", bench, "--config", place / f"{station}.toml", "--now")
        assert (sent.code, "All is there." in sent.out) == (0, True), sent
        assert "wait" in sent.err
    checked = call("share", bench, *own, "--check")
    assert (checked.code, checked.err) == (0, "")

    # What a station may do there is to add, and no more.
    store = PostgresStore(read_address(bench))
    for change in (
        update(ENTRY).values(body="{}"),
        delete(ENTRY),
        delete(SIGNATURE),
        update(SIGNATURE).values(value=""),
    ):
        with pytest.raises(Exception, match="refuses"):
            store.write(lambda it, change=change: it.execute(change))  # type: ignore[misc]
    store.close()

    whole = call("verify", bench)
    assert (whole.code, "The chain of mill ends with entry" in whole.out) == (0, True), whole.err
    assert "The chain of kitchen" in whole.out and "Signed" in whole.out
    one = call("verify", f"{bench}?station=mill", "--key", mill_key(call, place))
    assert (one.code, "kitchen" in one.out) == (0, False), one.err
    wrong = call("verify", f"{bench}?station=cellar")
    assert (wrong.code, "kitchen, mill" in wrong.err) == (4, True)

    batch = call("export", "kitchen-0002", "--database", bench)
    here = call("export", "kitchen-0002", "--database", place / "kitchen" / "weighd.db")
    assert (batch.code, json.loads(batch.out)) == (0, json.loads(here.out))
    which = call("trends", "--database", bench)
    assert (which.code, "?station=NAME" in which.err) == (4, True)
    for command in (("trends",), ("trace", "kitchen-0002"), ("lots", "list")):
        database = f"{bench}?station=kitchen"
        found = call(*command, "--database", database)
        same = call(*command, "--database", place / "kitchen" / "weighd.db")
        # A trace looks at every station that is there, and says so at its end.
        looked = "\nLooked at: kitchen, mill.\n" if command[0] == "trace" else ""
        assert (found.code, found.out, found.err) == (0, same.out + looked, "")

    # The lists can be spoiled by a station, and be drawn again by their owner.
    before = postgres.ask("SELECT * FROM batch ORDER BY 1, 2", database="share")
    postgres.ask("UPDATE batch SET name = 'spoiled'; DELETE FROM lot_sum", database="share")
    assert call("verify", owner, "--redraw").code == 0
    assert postgres.ask("SELECT * FROM batch ORDER BY 1, 2", database="share") == before
    assert call("verify", bench, "--chain").code == 0

    # A record put back from an old copy.
    kitchen(place / "old", "kitchen", 1).close()
    (place / "old.toml").write_text('[station]\nname = "kitchen"\ndata = "old/kitchen"\n')
    forked = call("share", bench, "--config", place / "old.toml", "--now")
    assert (forked.code, "put back" in forked.err) == (1, True)


def mill_key(call: Call, place: Path) -> str:
    told = call("key", "--config", place / "mill.toml").out
    return next(line for line in told.splitlines() if line.startswith("Public"))[8:].strip()


def test_tampering_there_is_told_from_truncation(
    call: Call, place: Path, postgres: Postgres
) -> None:
    address = postgres.create("tampered")
    own = ("--config", place / "mill.toml")
    key = mill_key(call, place)
    head = place / "head.json"
    assert call("head", *own, "--out", head).code == 0
    assert call("share", address, *own, "--now").code == 0
    assert call("verify", address, "--key", key, "--head", head).code == 0
    store = PostgresStore(read_address(address))
    seq = SqlJournal(store, "mill").tail().seq
    for statement, code, words in (
        (f"DELETE FROM signature WHERE seq = {seq}", 1, "not signed"),
        (
            f"DELETE FROM batch WHERE seq > 0; DELETE FROM entry WHERE seq = {seq}",
            1,
            "the end is missing",
        ),
        (f"UPDATE entry SET body = replace(body, 'a', 'e') WHERE seq = {seq // 2}", 1, "entry"),
    ):
        postgres.ask(statement, database="tampered")
        found = call("verify", address, "--key", key, "--head", head)
        assert found.code == code, found
        assert words in found.err
    assert f"entry {seq // 2}" in found.err
    checked = call("share", address, *own, "--check")
    assert (checked.code, f"Entry {seq // 2} " in checked.err) == (1, True)
    store.close()


def test_what_cannot_be_asked_says_why(call: Call, place: Path) -> None:
    own = ("--config", place / "mill.toml")
    away = call("share", f"postgresql://bench@127.0.0.1:{free_port()}/share", *own)
    assert (away.code, "does not answer" in away.err) == (4, True)
    for command in (
        ("share", "postgresql://bench:s3cret@db/floor"),
        ("verify", "postgresql://bench:s3cret@db/floor"),
        ("trends", "--database", "postgresql://bench:s3cret@db/floor"),
        ("serve", "--store", "postgresql://bench:s3cret@db/floor"),
    ):
        found = call(*command)
        assert (found.code, "PGPASSFILE" in found.err) == (2, True), found
        assert "s3cret" not in found.err + found.out
    assert call("share", "weighd.db").code == 2
    assert call("share", "--grant", "bench").code == 2
