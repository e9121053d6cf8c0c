"""Signed records, as the command line verifies them: from files, with a key and with heads."""

from __future__ import annotations

import json
import shutil
import sqlite3
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest

from tests.forked import run
from weighd.config import Config, load
from weighd.domain.errors import JournalError, RecordError
from weighd.domain.record import Entry, Tail, seal
from weighd.domain.signing import short, signed, signed_head
from weighd.domain.verify import read_export
from weighd.main.daemon import Daemon
from weighd.main.proving import export_batch, redraw, verify_file
from weighd.storage.journal import open_journal, open_read_only
from weighd.storage.keys import KEY_FILE, StationKey, read_station_key, station_key
from weighd.storage.shelf import FormulaShelf

SESSIONS = Path(__file__).parents[2] / "fixtures" / "sessions"


def recorded(session: str) -> list[Entry]:
    """The entries of a golden record: a batch as a station weighed it."""
    return read_export(json.loads((SESSIONS / f"{session}.golden.json").read_text("utf-8")))


def renumbered(entries: list[Entry], tail: Tail, batch: str) -> list[Entry]:
    """The same batch under another name, after ``tail``."""
    out, after = [], "0" * 64
    for one in entries:
        body = {**one.body, "batch": batch, "after": after}
        body.pop("key", None)
        made = seal(one.station, one.kind, one.at, body, tail)
        out.append(made)
        tail, after = Tail(made.seq, made.hash), made.hash
    return out


@pytest.fixture
def station(tmp_path: Path) -> Path:
    """A station's folder, with three batches, the first from before it had a key."""
    folder = tmp_path / "data"
    plain, over = recorded("plain"), recorded("over-pour")
    journal = open_journal(folder / "weighd.db", plain[0].station)
    tail = Tail()
    for n, entries in enumerate((plain, over, plain), start=1):
        if n == 2:
            journal.signer = station_key(folder / KEY_FILE)
        for one in renumbered(entries, tail, f"bench-{n:04d}"):
            journal.append([one])
            tail = Tail(one.seq, one.hash)
    journal.close()
    return folder


def key_of(station: Path) -> StationKey:
    return read_station_key(station / KEY_FILE)


def config_of(station: Path) -> Path:
    path = station.parent / "weighd.toml"
    path.write_text(f'[station]\nname = "{name_of(station)}"\ndata = "data"\n')
    return path


def name_of(station: Path) -> str:
    journal = open_read_only(station / "weighd.db")
    journal.close()
    return journal.station


def exported(station: Path, batch: str, **changes: Any) -> Path:
    document = {**export_batch(station / "weighd.db", batch), **changes}
    path = station.parent / f"{batch}.json"
    path.write_text(json.dumps(document))
    return path


def code(path: Path, keys: list[str] | None = None, heads: list[Path] | None = None) -> str:
    with pytest.raises((RecordError, JournalError)) as caught:
        verify_file(path, keys or [], heads or [])
    return caught.value.code


def test_a_station_s_own_batch_verifies_with_its_key_alone(station: Path, tmp_path: Path) -> None:
    ours = key_of(station)
    public = tmp_path / "public.pem"
    public.write_text(ours.public_pem)
    file = exported(station, "bench-0002")
    for key in (ours.key, str(public)):
        done = run("verify", file, "--key", key)
        assert (done.returncode, done.stderr) == (0, "")
        assert "Signed by a trusted key: 1 batch" in done.stdout
    done = run("verify", file)
    assert "Signed by a key that you should know from elsewhere" in done.stdout
    assert code(file, ["00" * 32]) == "wrong-key"
    # The first batch is older than the key.
    older = exported(station, "bench-0001")
    assert "Nothing in it is signed" in run("verify", older).stdout
    assert code(older, [ours.key]) == "not-signed"


def test_what_was_changed_cut_or_signed_by_another_is_told_apart(station: Path) -> None:
    ours, theirs = key_of(station), station_key(station / "theirs.pem")
    document = export_batch(station / "weighd.db", "bench-0003")
    entries = document["entries"]
    accepted = next(n for n, one in enumerate(entries) if one["kind"] == "addition accepted")
    changed = json.loads(json.dumps(entries))
    changed[accepted]["body"]["operator"] = "Somebody else"
    assert code(exported(station, "bench-0003", entries=changed), [ours.key]) == "hash-mismatch"
    anew = renumbered(
        read_export({**document, "entries": changed}),
        Tail(entries[0]["seq"] - 1, entries[0]["prev"]),
        "bench-0003",
    )
    rows = [one.as_json() for one in anew]
    file = exported(station, "bench-0003", entries=rows)
    assert code(file, [ours.key]) == code(file) == "sealed-anew"
    forged = signed(theirs, anew[-1]).as_json()
    file = exported(station, "bench-0003", entries=rows, signatures=[forged])
    assert code(file, [ours.key]) == "wrong-key"
    assert verify_file(file).report.signed == {theirs.key: 1}
    file = exported(station, "bench-0003", entries=entries[:-1])
    assert code(file, [ours.key]) == code(file) == "cut-short"
    assert code(exported(station, "bench-0003", signatures=[]), [ours.key]) == "not-signed"
    wrong = {**document["signatures"][0], "value": "ab" * 64}
    assert code(exported(station, "bench-0003", signatures=[wrong])) == "bad-signature"


def test_a_database_verifies_with_its_key_and_its_heads(station: Path, tmp_path: Path) -> None:
    config, database = config_of(station), station / "weighd.db"
    head = tmp_path / "head.json"
    made = run("head", "--config", config, "--out", head)
    assert (made.returncode, made.stderr) == (0, "")
    done = run("verify", database, "--key", key_of(station).key, "--head", head)
    assert (done.returncode, done.stderr) == (0, "")
    assert "2 batches, key" in done.stdout
    assert "1 ends of batches, from before there was a key, are not" in done.stdout
    assert "The head that was kept holds" in done.stdout
    shown = run("key", "--config", config)
    assert key_of(station).key in shown.stdout
    # What comes later leaves the head true.
    before = read_all(database)
    journal = open_journal(database, before[0].station)
    journal.signer = key_of(station)
    journal.append(renumbered(recorded("plain"), Tail(before[-1].seq, before[-1].hash), "later"))
    journal.close()
    verify_file(database, heads=[head])


def read_all(database: Path) -> list[Entry]:
    journal = open_read_only(database)
    entries = list(journal.entries())
    journal.close()
    return entries


def rewritten(database: Path, folder: Path, key: StationKey) -> Path:
    """A whole journal written anew with its own key: only a head kept elsewhere shows it."""
    entries = read_all(database)
    copy = folder / "rewritten.db"
    journal = open_journal(copy, entries[0].station)
    journal.signer = key
    tail, after = Tail(), dict[str, str]()
    for one in entries:
        batch = one.body["batch"]
        body = {**one.body, "after": after.get(batch, "0" * 64)}
        if one.seq == 1:
            body["operator"] = "Nobody"
        made = seal(one.station, one.kind, one.at, body, tail)
        journal.append([made])
        tail, after[batch] = Tail(made.seq, made.hash), made.hash
    journal.close()
    return copy


def test_a_journal_written_anew_with_the_key_itself_is_shown_by_a_head(
    station: Path, tmp_path: Path
) -> None:
    ours, head = key_of(station), tmp_path / "head.json"
    run("head", "--config", config_of(station), "--out", head)
    copy = rewritten(station / "weighd.db", tmp_path, ours)
    verify_file(copy, [ours.key])
    assert code(copy, [ours.key], [head]) == "rewritten"
    done = run("verify", copy, "--head", head)
    assert done.returncode == 1
    assert "written anew" in done.stderr


def test_an_end_taken_away_with_its_signature_is_shown_by_a_head(
    station: Path, tmp_path: Path
) -> None:
    """What nothing inside a database can show."""
    database, head = station / "weighd.db", tmp_path / "head.json"
    run("head", "--config", config_of(station), "--out", head)
    with closing(sqlite3.connect(database)) as connection, connection:
        for table in ("signature", "batch", "entry"):
            column = "id" if table == "batch" else "batch"
            connection.execute(f"DELETE FROM {table} WHERE {column} = 'bench-0003'")
    redraw(database)  # the lists of lots would tell
    verify_file(database, [key_of(station).key])
    assert code(database, heads=[head]) == "cut-short"


@pytest.mark.parametrize(
    ("change", "expected"),
    [
        ("DELETE FROM signature WHERE seq = (SELECT max(seq) FROM signature)", "not-signed"),
        ("DELETE FROM entry WHERE seq = (SELECT max(seq) FROM entry)", "cut-short"),
        ("UPDATE signature SET value = replace(value, 'a', 'b')", "bad-signature"),
        ("UPDATE signature SET entries = entries - 1", "bad-signature"),
        ("UPDATE signature SET entries = 'x'", "unreadable-signature"),
        ("UPDATE signature SET seq = seq - 1", "sealed-anew"),
        ("UPDATE signature SET key = substr(key, 2)", "unreadable-signature"),
        ("UPDATE entry SET body = replace(body, '\"over\"', '\"ever\"')", "hash-mismatch"),
    ],
)
def test_a_database_that_was_meddled_with(
    station: Path, tmp_path: Path, change: str, expected: str
) -> None:
    copy = tmp_path / "copy.db"
    shutil.copyfile(station / "weighd.db", copy)
    with closing(sqlite3.connect(copy)) as connection, connection:
        assert connection.execute(change).rowcount > 0
    assert code(copy, [key_of(station).key]) == expected


def test_a_proof_shows_a_batch_to_be_of_the_journal_without_the_others(
    station: Path, tmp_path: Path
) -> None:
    file, head = tmp_path / "batch.json", tmp_path / "head.json"
    done = run("export", "bench-0002", "--config", config_of(station), "--proof", "--out", file)
    assert (done.returncode, done.stderr) == (0, "")
    document = json.loads(file.read_text())
    assert {one["body"]["batch"] for one in document["entries"]} == {"bench-0002"}
    shown = run("verify", file, "--key", key_of(station).key)
    assert "It belongs to the journal of" in shown.stdout
    head.write_text(json.dumps(document["proof"]["head"]))
    verify_file(file, heads=[head])
    assert code(exported(station, "bench-0002"), heads=[head]) == "not-in-journal"
    for name, value in (("seq", 1), ("path", document["proof"]["path"][1:])):
        file.write_text(json.dumps({**document, "proof": {**document["proof"], name: value}}))
        assert code(file) == "not-in-journal"
    lost = signed_head(key_of(station), "elsewhere", 3, "0" * 64, "2026-03-01T08:00:00.000Z")
    head.write_text(json.dumps(lost.as_json()))
    assert code(station / "weighd.db", heads=[head]) == "other-station"
    assert code(station / "weighd.db", ["00" * 32], [head]) == "wrong-key"


def test_what_is_no_head_or_no_key_is_told(station: Path, tmp_path: Path) -> None:
    bad = tmp_path / "head.json"
    for text in ("", "[]", "{}", '{"weighd_head": 2}', "\0" * 9, "[" * 90_000):
        bad.write_text(text)
        assert code(station / "weighd.db", heads=[bad]) == "not-a-head"
    assert code(station / "weighd.db", heads=[tmp_path / "none"]) == "unreadable-file"
    done = run("verify", station / "weighd.db", "--key", "half a key")
    assert (done.returncode, done.stdout) == (4, "")
    (station / KEY_FILE).unlink()
    for command in ("key", "head"):
        done = run(command, "--config", config_of(station))
        assert (done.returncode, done.stdout) == (4, "")
        assert KEY_FILE in done.stderr


def test_a_station_whose_key_was_lost_makes_another_and_says_so(station: Path) -> None:
    old, config = key_of(station).key, load(config_of(station))
    assert notices(config) == []
    (station / KEY_FILE).unlink()
    told = notices(config)
    assert told == [("key-changed", short(key_of(station).key))]
    assert key_of(station).key != old
    # What the old key signed is still known as its own.
    assert verify_file(station / "weighd.db", [old]).report.signed == {old: 2}


def notices(config: Config) -> list[tuple[str, str]]:
    """What a station tells as it starts on this record."""
    daemon = Daemon(config, [], FormulaShelf(config.place(config.station.data)))
    daemon.journal.close()
    assert list(daemon.station.wake()) == []
    return [(one.code, one.text) for one in daemon.station.notices]


def test_a_station_does_not_start_with_a_key_that_others_can_read(station: Path) -> None:
    (station / KEY_FILE).chmod(0o644)
    done = run("serve", "--config", config_of(station), "--port", "0")
    assert (done.returncode, done.stdout) == (4, "")
    assert "Others on this computer can read" in done.stderr
    assert "chmod 600" in done.stderr
