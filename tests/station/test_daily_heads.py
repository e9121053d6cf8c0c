"""The head of each day: written, made up for, handed over; and never in the way of weighing."""

from __future__ import annotations

import json
import sqlite3
import stat
import threading
from collections.abc import Iterator
from contextlib import closing
from datetime import date
from pathlib import Path

import pytest
from pypdf import PdfReader

from tests.forked import run
from tests.station.test_proving import code, config_of, recorded, renumbered, rewritten
from tests.station.test_proving import station as station  # noqa: PLC0414 - a fixture
from weighd.config import Config, load
from weighd.domain.record import Tail
from weighd.domain.short_head import short_head
from weighd.main.daily_heads import DailyHeads, daily_heads
from weighd.main.head_days import due_day, missed, next_due
from weighd.main.proving import verify_file
from weighd.storage.journal import SqlJournal, open_journal, open_read_only
from weighd.storage.keys import KEY_FILE, read_station_key


class Wall:
    """A wall clock that is set by hand."""

    def __init__(self, at: str) -> None:
        self.at = at

    def utc(self) -> str:
        return self.at


class World:
    """A station's journal, a folder for its heads, a clock, and what was told on the page."""

    def __init__(self, station: Path, at: str = "2026-03-01T22:00:01.000Z", more: str = "") -> None:
        self.station, self.folder = station, station.parent / "heads"
        path = config_of(station)
        path.write_text(path.read_text() + f'[heads]\nfolder = "heads"\n{more}')
        self.config: Config = load(path)
        self.clock, self.told = Wall(at), list[tuple[str, str]]()
        name = open_read_only(station / "weighd.db").station
        self.journal: SqlJournal = open_journal(station / "weighd.db", name)
        self.journal.signer = read_station_key(station / KEY_FILE)
        self.heads = self.again()

    def tell(self, _level: str, kind: str, text: str) -> None:
        self.told.append((kind, text))

    def again(self) -> DailyHeads:
        """Those of a station that was started anew."""
        key = read_station_key(self.station / KEY_FILE)
        made = daily_heads(
            self.config,
            self.journal,
            key,
            self.clock,
            lambda _, kind, text: self.told.append((kind, text)),
        )
        assert made is not None
        self.heads = made
        return made

    def names(self) -> list[str]:
        return sorted(one.name for one in self.folder.iterdir())

    def weigh(self, batch: str) -> None:
        tail = self.journal.tail()
        self.journal.append(renumbered(recorded("plain"), Tail(tail.seq, tail.hash), batch))


@pytest.fixture
def world(station: Path) -> Iterator[World]:
    made = World(station, more="pdf = false\n")
    yield made
    made.journal.close()


def test_a_head_a_day_is_written_and_the_journal_holds_it(station: Path) -> None:
    world = World(station)
    made = world.heads.look()
    assert made is not None
    assert made.head.entries == world.journal.tail().seq
    stem = f"head-{world.journal.station}-2026-03-01"
    assert world.names() == [f"{stem}.json", f"{stem}.pdf", f"{stem}.txt"]
    head, digits = (
        world.folder / f"{stem}.json",
        str(short_head(made.head.station, made.head.entries, made.head.root)),
    )
    assert digits in (world.folder / f"{stem}.txt").read_text()
    page = PdfReader(world.folder / f"{stem}.pdf").pages
    assert len(page) == 1
    assert digits in page[0].extract_text().replace("\n", " ")
    assert world.heads.look() is None  # once a day
    world.weigh("later-0001")
    world.clock.at = "2026-03-02T22:30:00.000Z"
    after = world.heads.look()
    assert after is not None
    assert after.head.entries == world.journal.tail().seq
    world.journal.close()
    verify_file(station / "weighd.db", heads=[head])
    # The short form alone does, by whoever copied it down.
    done = run("head", "--check", digits, "--config", station.parent / "weighd.toml")
    assert (done.returncode, done.stderr) == (0, "")
    assert f"its first {made.head.entries} entries" in done.stdout


def test_a_rewriting_shows_by_the_digits_alone(world: World, station: Path, tmp_path: Path) -> None:
    made = world.heads.look()
    assert made is not None
    digits = made.as_json()["short"]
    world.journal.close()
    copy = rewritten(station / "weighd.db", tmp_path, read_station_key(station / KEY_FILE))
    asked = ("head", "--config", station.parent / "weighd.toml", "--database")
    done = run(*asked, copy, "--check", digits)
    assert (done.returncode, done.stdout) == (1, "")
    assert "written anew" in done.stderr
    with closing(sqlite3.connect(copy)) as connection, connection:
        connection.execute("DELETE FROM entry WHERE seq > 3")
    done = run(*asked, copy, "--check", digits)
    assert (done.returncode, done.stdout) == (1, "")
    assert "the end is missing" in done.stderr
    slip = digits[:-1] + str((int(digits[-1]) + 1) % 10)
    done = run(*asked, station / "weighd.db", "--check", slip)
    assert (done.returncode, done.stdout) == (2, "")
    assert "check digits do not fit" in done.stderr


def test_days_on_which_the_station_was_off_are_made_up_for(world: World) -> None:
    assert world.heads.look() is not None
    world.clock.at = "2026-03-05T07:00:00.000Z"
    made = world.again().look()
    assert made is not None
    assert (made.day.isoformat(), made.missed) == ("2026-03-04", ("2026-03-02", "2026-03-03"))
    assert world.told == [("heads-missed", "2026-03-02, 2026-03-03")]
    text = (world.folder / f"head-{world.journal.station}-2026-03-04.txt").read_text()
    assert "No head was made for 2026-03-02, 2026-03-03" in text
    # What is in the folder is known again after a start.
    assert world.again().look() is None
    assert world.heads.drawn()["head"]["short"] == made.as_json()["short"]
    assert world.heads.drawn()["next"] == "2026-03-05T22:00:00Z"


def test_a_folder_that_cannot_be_written_is_told_and_tried_again(world: World) -> None:
    world.folder.write_text("in the way")
    stop = threading.Event()
    thread = threading.Thread(target=world.heads.run, args=(stop,))
    thread.start()
    try:
        for _ in range(600):
            if world.told:
                break
            stop.wait(0.05)
        assert [kind for kind, _ in world.told] == ["head-failed"]
        assert world.heads.drawn()["problem"]
        world.weigh("meanwhile-0001")  # nothing is in the way of weighing
    finally:
        stop.set()
        thread.join()
    world.folder.unlink()
    assert world.heads.look() is not None
    assert world.heads.drawn()["problem"] == ""


def test_the_kitchen_s_own_command_gets_it_without_a_shell(station: Path, tmp_path: Path) -> None:
    script = tmp_path / "mailer; touch oops"
    script.write_text('#!/bin/sh\ncat > "$1"\nprintf "%s" "$2" > "$1.day"\ntest ! -e "$1.fail"\n')
    script.chmod(script.stat().st_mode | stat.S_IXUSR)
    out = tmp_path / "mail $(touch oops)"
    command = json.dumps([str(script), str(out), "{day} {short}"], ensure_ascii=False)
    world = World(station, more=f"pdf = false\ncommand = {command}\n")
    (tmp_path / f"{out.name}.fail").touch()
    made = world.heads.look()
    assert made is not None  # it was written all the same
    assert world.told[-1][0] == "head-failed"
    assert "ended with 1" in world.heads.drawn()["problem"]
    (tmp_path / f"{out.name}.fail").unlink()
    assert world.heads.look() is None
    assert world.heads.drawn()["problem"] == ""
    assert made.as_json()["short"] in out.read_text()
    assert (tmp_path / f"{out.name}.day").read_text() == f"2026-03-01 {made.as_json()['short']}"
    assert not list(Path().glob("oops*"))
    assert not list(tmp_path.glob("oops*"))
    missing = world.config.heads.model_copy(update={"command": (str(tmp_path / "none"),)})
    world.config = world.config.model_copy(update={"heads": missing})
    world.clock.at = "2026-03-02T22:00:00.000Z"
    assert world.again().look() is not None
    assert "No such file" in world.heads.drawn()["problem"]
    world.journal.close()


def test_nothing_is_written_for_a_journal_without_entries_or_without_a_folder(
    station: Path, world: World
) -> None:
    empty = open_journal(station.parent / "empty.db", "empty")
    heads = DailyHeads(
        world.config.heads, world.folder, empty, read_station_key(station / KEY_FILE), world.clock
    )
    assert heads.look() is None
    assert not world.folder.exists()
    empty.close()
    plain = world.config.model_copy(update={"heads": type(world.config.heads)()})
    key = read_station_key(station / KEY_FILE)
    assert daily_heads(plain, world.journal, key, world.clock) is None


def test_a_kept_head_that_is_damaged_is_no_head(world: World) -> None:
    assert world.heads.look() is not None
    (path,) = world.folder.glob("*.json")
    path.write_text("{")
    assert world.again().look() is None
    assert world.heads.drawn()["head"] is None
    assert code(world.station / "weighd.db", heads=[path]) == "not-a-head"


def test_which_days_are_due() -> None:
    assert due_day("2026-03-01T21:59:59.999Z", "22:00") == date(2026, 2, 28)
    assert due_day("2026-03-01T22:00:00.000Z", "22:00") == date(2026, 3, 1)
    assert next_due("2026-03-01T22:00:00.000Z", "22:00").isoformat() == "2026-03-02T22:00:00+00:00"
    due = date(2026, 3, 5)
    assert missed([], due) == []
    assert missed([date(2026, 3, 4)], due) == []
    assert missed([date(2026, 3, 1), date(2026, 2, 1)], due) == [
        date(2026, 3, 2),
        date(2026, 3, 3),
        date(2026, 3, 4),
    ]
    # A clock that is back at 1970 makes no list of all days since.
    assert missed([date(2026, 3, 1)], date(1970, 1, 1)) == []
    assert len(missed([date(1970, 1, 1)], due)) == 31
