"""Old batches put away while the station runs: proofs hold, weighing goes on, nothing half done."""

from __future__ import annotations

import asyncio
import shutil
import threading
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from tests.forked import run
from tests.station.old_batches import dated
from tests.station.test_archiving import BATCHES, database, kitchen, stood
from tests.station.test_proving import recorded
from weighd.config import load
from weighd.domain.errors import ConfigError, JournalError, RecordError
from weighd.main import archiving, archiving_daily
from weighd.main.archiving_daily import DailyArchives
from weighd.main.daemon import Daemon
from weighd.station.inputs import Command, PutAway
from weighd.station.session import Header, header_line, line, read
from weighd.storage.shelf import FormulaShelf

__all__ = ["kitchen"]


@pytest.fixture
def config(kitchen: Path, tmp_path: Path) -> Path:
    """A copy of a station with three batches of old years, which puts away what is a year old."""
    shutil.copytree(kitchen, tmp_path / "here")
    path = tmp_path / "here" / "weighd.toml"
    more = '[retention]\nbatches_days = 365\narchives = "away"\n[heads]\n'
    path.write_text(path.read_text("utf-8") + more, "utf-8")
    (path.parent / "away").mkdir()
    return path


def opened(config: Path) -> Daemon:
    settings = load(config)
    formulas = settings.place(settings.station.formulas)
    return Daemon(settings, [], FormulaShelf(formulas))


def running(config: Path, work: Callable[[Daemon, DailyArchives], Any]) -> Any:
    """Something done, in a thread, beside a station that runs."""
    daemon = opened(config)
    assert daemon.archives is not None

    async def both() -> Any:
        until, ready = asyncio.Event(), asyncio.Event()
        station = asyncio.create_task(daemon.run(until, ready.set))
        await ready.wait()
        try:
            assert daemon.archives is not None
            return await asyncio.to_thread(work, daemon, daemon.archives)
        finally:
            until.set()
            await station

    return asyncio.run(both())


def archives(config: Path) -> list[Path]:
    return sorted((config.parent / "away").glob("*.archive"))


def told(daemon: Daemon, do: str, **asked: Any) -> None:
    loop = daemon.runner._loop
    assert loop is not None
    command = daemon.runner.command(Command(0.0, do, **asked))
    asyncio.run_coroutine_threadsafe(command, loop).result()


def corrected(daemon: Daemon) -> None:
    """Something of the oldest batch is put right."""
    first = daemon.journal.batch(BATCHES[0])[0]
    asked = {"batch": BATCHES[0], "entry": 1, "old": first.body["operator"], "by": "Bo"}
    told(daemon, "correct", field="operator", new="Cleo", reason="misheard", **asked)


def received(daemon: Daemon) -> None:
    """Something that has to do with no batch is recorded."""
    goods = {"ingredient": "milk", "quantity_g": "500", "name": "Milk"}
    told(daemon, "receive lot", lot="NEW", by="Ada", goods=goods)


def test_old_batches_go_and_all_of_it_still_holds(config: Path) -> None:
    before = stood(config)

    def work(daemon: Daemon, away: DailyArchives) -> None:
        assert away.look() == len(BATCHES)
        assert away.look() == 0  # nothing more is old
        received(daemon)  # the station goes on after that entry

    running(config, work)
    after = stood(config)
    assert [one for one in after["lots"] if one.code != "NEW"] == list(before["lots"])
    assert {k: v for k, v in after.items() if k != "lots"} == {
        k: v for k, v in before.items() if k != "lots"
    }
    (archive,) = archives(config)
    whole = run("verify", database(config), "--archive", archive)
    assert whole.returncode == 0, whole.stderr
    alone = run("verify", database(config))
    assert alone.returncode == 0, alone.stderr
    assert "3 batches" in alone.stdout + alone.stderr
    assert run("export", BATCHES[0], "--archive", archive, "--out", config.parent / "x.json")
    running(config, lambda _daemon, away: away.look())  # and a start finds nothing to do again
    assert archives(config) == [archive]


def test_they_go_some_at_a_time(config: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(archiving_daily, "MOST_AT_ONCE", 2)

    def work(_daemon: Daemon, away: DailyArchives) -> None:
        away._first_s = 0.0
        stop = threading.Event()
        thread = threading.Thread(target=away.run, args=(stop,))
        thread.start()
        for _ in range(400):
            if away._looked:
                break
            stop.wait(0.05)
        stop.set()
        thread.join()

    running(config, work)
    assert len(archives(config)) == 2
    told = [f"--archive={one}" for one in archives(config)]
    whole = run("verify", database(config), *told)
    assert whole.returncode == 0, whole.stderr


def test_a_batch_that_was_put_right_meanwhile_stays_whole(
    config: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = stood(config)

    def work(daemon: Daemon, away: DailyArchives) -> None:
        put_into = archiving_daily.put_into

        def and_then(*given: Any) -> Any:
            found = put_into(*given)
            corrected(daemon)
            return found

        monkeypatch.setattr(archiving_daily, "put_into", and_then)
        assert away.look() == 0

    running(config, work)
    assert not archives(config)
    assert stood(config)["drawn"] == before["drawn"]
    whole = run("verify", database(config))
    assert whole.returncode == 0, whole.stderr


def test_nothing_goes_while_something_is_weighed(config: Path) -> None:
    settings = load(config)
    daemon = opened(config)
    tail = daemon.journal.tail()
    name = f"{settings.station.name}-now"
    first = dated(recorded("plain"), tail, name, "2026")[0]
    daemon.journal.append([first])
    daemon.journal.close()

    def work(daemon: Daemon, away: DailyArchives) -> None:
        assert not away._idle()
        assert away.look() == 0

    running(config, work)
    assert not archives(config)


@pytest.mark.parametrize("where", ["archive", "record"])
def test_what_fails_leaves_all_as_it_was(
    config: Path, where: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = stood(config)

    def work(daemon: Daemon, away: DailyArchives) -> None:
        if where == "archive":
            (config.parent / "away").rmdir()
            with pytest.raises(OSError, match="no folder"):
                away.look()
            return

        monkeypatch.setattr(daemon.runner, "_put_away", fails)
        with pytest.raises(JournalError):
            away.look()

    running(config, work)
    after = stood(config)
    assert after == before
    assert run("verify", database(config)).returncode == 0


def fails(_entries: Any, _stubs: Any) -> None:
    raise JournalError("store-full", "No room.")


@pytest.mark.parametrize("then", ["goes on", "put right", "another day", "changed", "in doubt"])
def test_what_was_archived_in_vain_is_used_again_or_taken_away(
    config: Path, then: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    def work(daemon: Daemon, away: DailyArchives) -> list[Path]:
        put = daemon.runner._put_away
        monkeypatch.setattr(daemon.runner, "_put_away", fails)
        for _ in range(3):  # an hour each
            with pytest.raises(JournalError):
                away.look()
        (first,) = archives(config)
        monkeypatch.setattr(daemon.runner, "_put_away", put)
        if then == "put right":
            corrected(daemon)
        elif then == "another day":  # others are old by then, and something else was recorded
            monkeypatch.setattr(archiving_daily, "MOST_AT_ONCE", 2)
            received(daemon)
        elif then == "in doubt":  # nothing came to the disk since: the failed write may have
            monkeypatch.setattr(archiving_daily, "MOST_AT_ONCE", 2)
        elif then == "changed":
            first.write_bytes(b"by another hand")
            received(daemon)
        gone = away.look()
        assert gone == len(BATCHES) - (then == "put right")
        return [first]

    (first,) = running(config, work)
    kept = archives(config)
    assert (first in kept) is (then in ("goes on", "in doubt"))
    used = [one for one in kept if one != first or then == "goes on"]
    assert len(used) == (2 if then in ("another day", "in doubt") else 1)
    whole = run("verify", database(config), *(f"--archive={one}" for one in used))
    assert whole.returncode == 0, whole.stderr


def test_an_archive_that_the_record_tells_of_is_never_taken_away(
    config: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A write that came to the disk, though it was said to have failed."""

    def work(daemon: Daemon, away: DailyArchives) -> None:
        put = daemon.runner._put_away
        assert put is not None

        def written_and_failed(entries: Any, stubs: Any) -> None:
            put(entries, stubs)
            raise JournalError("store-io", "The disk failed.")

        monkeypatch.setattr(daemon.runner, "_put_away", written_and_failed)
        with pytest.raises(JournalError):
            away.look()
        away._take_away()
        assert away.look() == 0

    running(config, work)
    (archive,) = archives(config)
    whole = run("verify", database(config), "--archive", archive)
    assert whole.returncode == 0, whole.stderr


def test_one_that_does_not_hold_when_it_is_read_back_does_not_stay(
    config: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def unreadable(path: Path, _check: Any) -> Any:
        raise RecordError("cut-short", "It is cut short.", where=str(path))

    def work(_daemon: Daemon, away: DailyArchives) -> None:
        monkeypatch.setattr(archiving, "read_archive", unreadable)
        with pytest.raises(RecordError):
            away.look()

    running(config, work)
    assert not archives(config)
    assert run("verify", database(config)).returncode == 0


def test_that_nothing_goes_is_told_on_the_page(config: Path) -> None:
    (config.parent / "away").rmdir()

    def work(daemon: Daemon, away: DailyArchives) -> list[str]:
        away._first_s = 0.0
        stop = threading.Event()
        thread = threading.Thread(target=away.run, args=(stop,))
        thread.start()
        for _ in range(400):
            if any(one.code == "archive-failed" for one in daemon.station.notices):
                break
            stop.wait(0.05)
        stop.set()
        thread.join()
        return [one.text for one in daemon.station.notices if one.code == "archive-failed"]

    (told,) = running(config, work)
    assert "no folder" in told


def test_one_that_was_asked_for_while_it_went_is_told_where_it_is(config: Path) -> None:
    def work(daemon: Daemon, away: DailyArchives) -> str:
        loop = daemon.runner._loop
        assert loop is not None
        away.look()
        asked = {"field": "operator", "old": "x", "new": "y", "reason": "z", "by": "Bo", "entry": 1}
        command = daemon.runner.command(Command(0.0, "correct", batch=BATCHES[0], **asked))
        with pytest.raises(Exception, match="was put away in") as refused:
            asyncio.run_coroutine_threadsafe(command, loop).result()
        return str(refused.value)

    assert ".archive" in running(config, work)


def test_a_recording_replays_it(config: Path) -> None:
    """The entry that says so is made again, byte for byte, from what the recording has."""
    body = {"archive": "a.archive", "batches": {"b": "0" * 64}, "by": "the station"}
    text = line(PutAway(2.5, body, ()))
    assert text is not None
    _, inputs = read([header_line(Header({})), text])
    (event,) = inputs
    assert event == PutAway(2.5, body)
    daemon = opened(config)
    try:
        made = list(daemon.station.handle(event).send(None))
    finally:
        daemon.journal.close()
        daemon.runner.close()
    assert [one.kind for one in made] == ["put away"]
    assert {key: made[0].body[key] for key in body} == body


def test_where_nothing_is_to_go_by_itself_nothing_does(config: Path) -> None:
    text = config.read_text("utf-8")
    config.write_text(text.replace('archives = "away"\n', ""), "utf-8")
    daemon = opened(config)
    assert daemon.archives is None
    daemon.journal.close()
    daemon.runner.close()
    config.write_text(text.replace("batches_days = 365\n", ""), "utf-8")
    with pytest.raises(ConfigError, match="batches_days"):
        load(config)
