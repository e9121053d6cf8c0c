"""A record put away while it grows, and a station put back out of it."""

from __future__ import annotations

import fcntl
import json
import shutil
import sqlite3
import stat
import threading
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from tests.forked import run
from tests.storage.entries import STATION, Chain, intact
from weighd.config import load
from weighd.domain.devices import Device, May
from weighd.domain.errors import JournalError, OperatorError, RecordError, WeighdError
from weighd.domain.record import Tail
from weighd.domain.verify import read_export
from weighd.main import backing_up
from weighd.main.backing_up import back_up, put_back
from weighd.storage import copies
from weighd.storage.devices import forget_devices
from weighd.storage.journal import SqlJournal, open_journal, open_read_only
from weighd.storage.kept_revisions import REVISIONS, KeptRevisions
from weighd.storage.keys import KEY_FILE, station_key
from weighd.storage.revision_bundle import unbundle
from weighd.storage.shelf import FormulaShelf

SECRET = "four odd words here"
ICE = """
name = "An invented ice"
[ingredients.water]
name = "Water"
[[additions]]
ingredient = "water"
target = "100 g"
tolerance = "1 %"
"""
SESSIONS = Path(__file__).parents[2] / "fixtures" / "sessions"


@pytest.fixture
def kitchen(tmp_path: Path) -> Path:
    """A station's folder with one batch in its record; the configuration's path."""
    folder = tmp_path / "kitchen"
    (folder / "formulas").mkdir(parents=True)
    (folder / "formulas" / "ice.toml").write_text('name = "An invented ice"\n')
    (folder / "formulas" / "notes.txt").write_text("no formula")
    entries = read_export(json.loads((SESSIONS / "plain.golden.json").read_text("utf-8")))
    journal = open_journal(folder / "weighd-data" / "weighd.db", entries[0].station)
    journal.signer = station_key(folder / "weighd-data" / KEY_FILE)
    journal.append(entries)
    journal.close()
    config = folder / "weighd.toml"
    config.write_text(f'[station]\nname = "{entries[0].station}"\n')
    return config


def test_a_station_is_put_away_and_back(kitchen: Path, tmp_path: Path) -> None:
    word = tmp_path / "word"
    word.write_text(f"{SECRET}\n")
    asked = ("--with-key", "--passphrase-file", word)
    done = run("backup", tmp_path / "away", "--config", kitchen, *asked)
    assert (done.returncode, done.stderr) == (0, "")
    assert "The record holds" in done.stdout
    (copy,) = (tmp_path / "away").iterdir()
    shutil.rmtree(kitchen.parent)
    # The key is nowhere in it but under the passphrase.
    assert b"PRIVATE KEY" not in b"".join(it.read_bytes() for it in copy.rglob("*") if it.is_file())
    done = run("restore", copy, tmp_path / "new", *asked)
    assert (done.returncode, done.stderr) == (0, "")
    assert "The old machine must not go on" in done.stdout
    config = tmp_path / "new" / "weighd.toml"
    assert f"weighd serve --config {config}" in done.stdout
    key = tmp_path / "new" / "weighd-data" / KEY_FILE
    assert stat.S_IMODE(key.stat().st_mode) == 0o600
    public = run("key", "--config", config).stdout.split("Public: ")[1].split()[0]
    record = tmp_path / "new" / "weighd-data" / "weighd.db"
    assert run("verify", record, "--key", public).returncode == 0
    assert (tmp_path / "new" / "formulas" / "ice.toml").read_text() == 'name = "An invented ice"\n'
    assert not (tmp_path / "new" / "formulas" / "notes.txt").exists()
    # The station goes on where it was.
    journal = open_journal(record, open_read_only(record).station)
    tail = journal.tail()
    chain = Chain(Tail(tail.seq, tail.hash), journal.station)
    journal.append([chain.opening("later-0001")])
    journal.close()


def test_earlier_revisions_go_along(kitchen: Path, tmp_path: Path) -> None:
    formulas = kitchen.parent / "formulas"
    shelf = FormulaShelf(formulas, KeptRevisions(formulas, lambda: "2026-11-27T08:00:00Z").met)
    for grams in ("100 g", "120 g"):
        (formulas / "ice.toml").write_text(ICE.replace("100 g", grams))
        assert [one.id for one in shelf.all()[0]] == ["ice"]
    kept = {one.name: one.read_bytes() for one in (formulas / REVISIONS / "ice").iterdir()}
    (formulas / REVISIONS / "ice" / "0123456789ab.json").write_text("none")
    made = back_up(kitchen, tmp_path / "away", keep=None)
    put_back(made.copy.folder, tmp_path / "new")
    back = tmp_path / "new" / "formulas"
    assert {one.name: one.read_bytes() for one in (back / REVISIONS / "ice").iterdir()} == kept
    assert sorted(one.name for one in back.iterdir()) == [REVISIONS, "ice.toml"]
    assert len(kept) == 2
    # What is none is left out, and leads nowhere.
    out = '{"formula": "../x", "revision": "a", "how": "file", "by": "", "at": "", "content": {}}'
    assert unbundle(f"none\n{out}\n", back) == 2
    assert not (back / "x").exists()


def test_without_being_told_to_it_leaves_the_key_where_it_is(kitchen: Path, tmp_path: Path) -> None:
    made = back_up(kitchen, tmp_path / "away", keep=None)
    assert KEY_FILE not in {one.name for one in made.copy.folder.rglob("*")}
    done = put_back(made.copy.folder, tmp_path / "new")
    assert any(KEY_FILE in text for text in done.told)


def test_who_was_let_in_has_to_be_let_in_anew(
    kitchen: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    name = load(kitchen).station.name
    journal = open_journal(kitchen.parent / "weighd-data" / "weighd.db", name)
    for n in range(3):
        journal.devices().put(Device(str(n), f"tablet {n}", May.WORK, "0" * 64, "2026", "2026"))
    journal.close()
    copy = back_up(kitchen, tmp_path / "away", keep=None).copy.folder
    done = run("restore", copy, tmp_path / "new")
    assert done.returncode == 0, done.stderr
    assert "Other devices that were let in (3) are out" in done.stdout
    config = tmp_path / "new" / "weighd.toml"
    assert "No device was let in" in run("devices", "--config", config).stdout
    assert run("verify", tmp_path / "new" / "weighd-data" / "weighd.db").returncode == 0
    # In the copy they are still there, and the station that it is of was not touched.
    assert len(open_read_only(copy / copies.DATABASE, name).devices().all()) == 3
    assert "tablet 2" in run("devices", "--config", kitchen).stdout

    def fails(_file: Path) -> int:
        raise JournalError("store-io", "The disk failed.")

    monkeypatch.setattr(backing_up, "forget_devices", fails)
    with pytest.raises(JournalError):
        put_back(copy, tmp_path / "third")
    assert not [one for one in (tmp_path / "third").rglob("*") if one.is_file()]


def test_where_nobody_was_let_in_a_record_is_put_back_byte_for_byte(
    kitchen: Path, tmp_path: Path
) -> None:
    copy = back_up(kitchen, tmp_path / "away", keep=None).copy.folder
    done = put_back(copy, tmp_path / "new")
    assert done.database.read_bytes() == (copy / copies.DATABASE).read_bytes()
    assert not [text for text in done.told if "let in" in text]
    with closing(sqlite3.connect(tmp_path / "older.db")) as older:
        older.execute("CREATE TABLE entry (seq INTEGER)")
    assert forget_devices(tmp_path / "older.db") == 0


def test_while_entries_are_written_a_copy_is_one_moment_of_them(tmp_path: Path) -> None:
    folder = tmp_path / "kitchen"
    folder.mkdir()
    config = folder / "weighd.toml"
    config.write_text(f'[station]\nname = "{STATION}"\n')
    journal = open_journal(folder / "weighd-data" / "weighd.db", STATION)
    stop, written = threading.Event(), list[int]()
    writer = threading.Thread(target=_write, args=(journal, Chain().endless(), stop, written))
    writer.start()
    try:
        while not written:
            stop.wait(0.01)
        for n in range(4):
            before = written[-1]
            target = tmp_path / f"copy-{n}.db"
            copies.copy_database(folder / "weighd-data" / "weighd.db", target)
            copied = open_read_only(target, STATION)
            entries = list(copied.entries())
            assert intact(entries)
            assert before <= len(entries) <= written[-1] + 2
    finally:
        stop.set()
        writer.join()
        journal.close()


def _write(
    journal: SqlJournal, endless: Iterator[list[object]], stop: threading.Event, written: list[int]
) -> None:
    for entries in endless:
        journal.append(entries)  # type: ignore[arg-type]
        written.append(journal.tail().seq)
        if stop.is_set():
            return


def test_older_copies_go_and_what_is_none_stays(kitchen: Path, tmp_path: Path) -> None:
    away = tmp_path / "away"
    for n in range(4):
        made = back_up(kitchen, away, keep=None)
        made.copy.folder.rename(away / f"mill-{n}")  # as if made in other seconds
        text = (away / f"mill-{n}" / copies.MANIFEST).read_text()
        older = text.replace(made.copy.at, f"2026-01-0{n + 1}T00:00:00.000Z")
        (away / f"mill-{n}" / copies.MANIFEST).write_text(older)
    (away / "holiday photos").mkdir()
    (away / "mill-9").mkdir()
    (away / "mill-9" / copies.MANIFEST).write_text("{}")
    other = (away / "mill-0" / copies.MANIFEST).read_text()
    shutil.copytree(away / "mill-0", away / "cellar-0")
    name = json.loads(other)["station"]
    (away / "cellar-0" / copies.MANIFEST).write_text(other.replace(f'"{name}"', '"cellar"'))
    made = back_up(kitchen, away, keep=2)
    assert made.removed == 3
    left = {one.name for one in away.iterdir()}
    assert left == {"holiday photos", "mill-9", "cellar-0", "mill-3", made.copy.folder.name}
    with pytest.raises(OperatorError):
        back_up(kitchen, away, keep=0)


def test_a_record_that_does_not_hold_is_not_put_away(kitchen: Path, tmp_path: Path) -> None:
    away = tmp_path / "away"
    back_up(kitchen, away, keep=None).copy.folder.rename(away / "good")
    database = kitchen.parent / "weighd-data" / "weighd.db"
    with closing(sqlite3.connect(database)) as connection, connection:
        connection.execute("UPDATE entry SET at = replace(at, 'T', 't') WHERE seq = 2")
    with pytest.raises(RecordError):
        back_up(kitchen, away, keep=1)
    assert [one.name for one in away.iterdir()] == ["good"]


def test_a_copy_that_was_damaged_is_not_put_back(kitchen: Path, tmp_path: Path) -> None:
    copy = back_up(kitchen, tmp_path / "away", keep=None).copy.folder
    manifest = (copy / copies.MANIFEST).read_text()
    database = copy / copies.DATABASE
    whole = database.read_bytes()

    def refused() -> str:
        with pytest.raises(WeighdError) as caught:
            put_back(copy, tmp_path / "new")
        assert not (tmp_path / "new").exists()
        return caught.value.code

    database.write_bytes(whole[:-1] + bytes([whole[-1] ^ 1]))
    assert refused() == "copy-damaged"
    database.unlink()
    assert refused() == "copy-damaged"
    database.write_bytes(whole)
    for text in (
        "",
        "[]",
        "{}",
        manifest.replace('"weighd_copy": 1', '"weighd_copy": 2'),
        manifest.replace(f'"{copies.DATABASE}"', '"record/../../../etc/passwd"'),
        manifest.replace(f'"{copies.DATABASE}"', '"/etc/passwd"'),
        manifest.replace(f'"{copies.DATABASE}"', '"elsewhere/weighd.db"'),
        manifest.replace('"entries": ', '"entries": "many" or '),
    ):
        assert text != manifest
        (copy / copies.MANIFEST).write_text(text)
        assert refused() == "not-a-copy"
    (copy / copies.MANIFEST).unlink()
    assert refused() == "not-a-copy"


def test_nothing_that_is_there_is_written_over(kitchen: Path, tmp_path: Path) -> None:
    copy = back_up(kitchen, tmp_path / "away", keep=None).copy.folder
    there = tmp_path / "new" / "weighd-data" / "weighd.db"
    there.parent.mkdir(parents=True)
    there.write_bytes(b"another station's")
    with pytest.raises(JournalError) as caught:
        put_back(copy, tmp_path / "new")
    assert caught.value.code == "file-exists"
    assert there.read_bytes() == b"another station's"
    assert [one for one in (tmp_path / "new").rglob("*") if one.is_file()] == [there]


def test_what_was_put_back_in_part_is_put_back_by_asking_again(
    kitchen: Path, tmp_path: Path
) -> None:
    copy = back_up(kitchen, tmp_path / "away", keep=None, passphrase=SECRET).copy.folder
    whole = put_back(copy, tmp_path / "whole", SECRET)
    new, data = tmp_path / "new", tmp_path / "new" / "weighd-data"
    data.mkdir(parents=True)
    (data / "weighd.db.part").write_bytes(b"half of it")
    (data / "weighd.db.part-journal").write_bytes(b"of the half of it")
    (data / KEY_FILE).write_bytes(whole.database.with_name(KEY_FILE).read_bytes())
    shutil.copy(kitchen, new / kitchen.name)
    done = put_back(copy, new, SECRET)
    assert (done.config, done.told) == (new / kitchen.name, whole.told)
    for one in whole.database.parent.parent.rglob("*"):
        if one.is_file():
            again = new / one.relative_to(tmp_path / "whole")
            assert again.read_bytes() == one.read_bytes(), one
    assert not list(new.rglob("*.part*"))


def test_it_is_not_put_back_over_another_key_or_by_two_at_once(
    kitchen: Path, tmp_path: Path
) -> None:
    copy = back_up(kitchen, tmp_path / "away", keep=None, passphrase=SECRET).copy.folder
    data = tmp_path / "new" / "weighd-data"
    data.mkdir(parents=True)
    (data / KEY_FILE).write_bytes(b"another station's")
    with pytest.raises(JournalError) as caught:
        put_back(copy, tmp_path / "new", SECRET)
    assert (caught.value.code, caught.value.where) == ("file-exists", str(data / KEY_FILE))
    assert [one.name for one in (tmp_path / "new").rglob("*") if one.is_file()] == [KEY_FILE]
    part = tmp_path / "third" / "weighd-data" / "weighd.db.part"
    part.parent.mkdir(parents=True)
    with part.open("wb") as other:
        fcntl.flock(other, fcntl.LOCK_EX)
        with pytest.raises(JournalError) as caught:
            put_back(copy, tmp_path / "third")
    assert (caught.value.code, caught.value.where) == ("file-exists", str(part))
    assert part.exists()


def test_a_station_that_kept_its_record_elsewhere_is_told_where_it_went(
    kitchen: Path, tmp_path: Path
) -> None:
    elsewhere = tmp_path / "big disk"
    shutil.move(kitchen.parent / "weighd-data", elsewhere)
    kitchen.write_text(kitchen.read_text() + f'data = "{elsewhere}"\n')
    copy = back_up(kitchen, tmp_path / "away", keep=None).copy.folder
    done = put_back(copy, tmp_path / "new")
    assert done.database == tmp_path / "new" / "weighd-data" / "weighd.db"
    assert any("data stood elsewhere" in text for text in done.told)


def test_where_nothing_can_be_written_nothing_is_left(kitchen: Path, tmp_path: Path) -> None:
    blocked = tmp_path / "file"
    blocked.write_text("in the way")
    with pytest.raises(JournalError):
        back_up(kitchen, blocked / "away", keep=None)
    (kitchen.parent / "weighd-data" / KEY_FILE).unlink()
    with pytest.raises(JournalError):
        back_up(kitchen, tmp_path / "away", keep=None, passphrase=SECRET)
    assert list((tmp_path / "away").iterdir()) == []


def test_how_many_copies_stay_may_be_configured(kitchen: Path, tmp_path: Path) -> None:
    kitchen.write_text(kitchen.read_text() + "[retention]\nbackups = 1\n")
    first = back_up(kitchen, tmp_path / "away", keep=None).copy.folder
    first.rename(tmp_path / "away" / "earlier")
    made = back_up(kitchen, tmp_path / "away", keep=None)
    assert (made.removed, [one.name for one in (tmp_path / "away").iterdir()]) == (
        1,
        [made.copy.folder.name],
    )
