"""A station moves to another machine: by its key under a passphrase, or with a new key; and what
shows where the old machine went on as well. The steps are those of the documentation.
"""

from __future__ import annotations

import hashlib
import json
import shutil
from pathlib import Path
from typing import Any

import pytest

from tests.forked import run
from tests.station.test_backup import SECRET
from tests.station.test_backup import kitchen as kitchen  # noqa: PLC0414 - a fixture
from tests.station.test_proving import recorded, renumbered
from weighd.config import load
from weighd.domain.errors import OperatorError, RecordError
from weighd.domain.keeping import KEY_CHANGED
from weighd.domain.record import Tail, seal
from weighd.domain.verify import Verifier
from weighd.main.backing_up import back_up, put_back
from weighd.main.daemon import DATABASE, Daemon
from weighd.main.proving import head_of, verify_file
from weighd.storage import sealed_key
from weighd.storage.journal import open_journal, open_read_only
from weighd.storage.keys import KEY_FILE, read_station_key
from weighd.storage.shelf import FormulaShelf


@pytest.fixture(autouse=True)
def quick(monkeypatch: pytest.MonkeyPatch) -> None:
    """Less work for scrypt than for a real passphrase."""
    monkeypatch.setattr(sealed_key, "_N", 2**8)


def database(config: Path) -> Path:
    settings = load(config)
    return settings.place(settings.station.data) / DATABASE


def start(config: Path) -> list[str]:
    """A station started on a record and stopped again; the notices it had."""
    settings = load(config)
    daemon = Daemon(settings, [], FormulaShelf(settings.place(settings.station.formulas)))
    list(daemon.station.wake())
    daemon.journal.close()
    return [one.code for one in daemon.station.notices]


def weigh(config: Path, batch: str) -> None:
    path = database(config)
    journal = open_journal(path, load(config).station.name)
    journal.signer = read_station_key(path.with_name(KEY_FILE))
    tail = journal.tail()
    for one in renumbered(recorded("plain"), Tail(tail.seq, tail.hash), batch):
        journal.append([one])
    journal.close()


def moved(kitchen: Path, tmp_path: Path, passphrase: str | None = SECRET) -> Path:
    copy = back_up(kitchen, tmp_path / "stick", keep=None, passphrase=SECRET).copy.folder
    done = put_back(copy, tmp_path / "new machine", passphrase)
    assert done.config is not None
    return done.config


def key_of(config: Path) -> str:
    return read_station_key(database(config).with_name(KEY_FILE)).key


def test_with_its_key_a_station_goes_on_as_itself(kitchen: Path, tmp_path: Path) -> None:
    config = moved(kitchen, tmp_path)
    assert key_of(config) == key_of(kitchen)
    assert start(config) == []
    weigh(config, "later-0002")
    report = verify_file(database(config), [key_of(kitchen)]).report
    assert report.signed == {key_of(kitchen): 2}


def test_without_it_the_record_says_which_key_came_after_which(
    kitchen: Path, tmp_path: Path
) -> None:
    old = key_of(kitchen)
    config = moved(kitchen, tmp_path, None)
    assert start(config) == ["key-changed"]
    assert start(config) == ["key-changed"]  # told until something is signed, recorded once
    new = key_of(config)
    assert new != old
    journal = open_read_only(database(config))
    (told,) = journal.newest(KEY_CHANGED)
    assert (told.body["before"], told.body["key"]) == (old, new)
    weigh(config, "later-0002")
    assert verify_file(database(config), [old, new]).report.signed == {old: 1, new: 1}
    assert start(config) == []


@pytest.mark.parametrize(
    "body",
    [
        {"before": "ab" * 32, "key": "ab" * 32, "weighd": "0"},
        {"before": "short", "key": "ab" * 32, "weighd": "0"},
        {"before": "ab" * 32, "weighd": "0"},
    ],
)
def test_what_is_no_change_of_keys_does_not_verify(body: dict[str, Any]) -> None:
    with pytest.raises(RecordError):
        Verifier(whole=True).take(
            seal("kitchen", KEY_CHANGED, "2026-03-01T08:00:00.000Z", body, Tail())
        )


def test_another_key_than_the_one_that_signed_cannot_be_named_as_the_one_before(
    kitchen: Path,
) -> None:
    journal = open_journal(database(kitchen), load(kitchen).station.name)
    body = {"before": "ab" * 32, "key": "cd" * 32, "weighd": "0"}
    journal.append(
        [seal(journal.station, KEY_CHANGED, "2026-03-01T08:00:00.000Z", body, journal.tail())]
    )
    journal.close()
    with pytest.raises(RecordError) as caught:
        verify_file(database(kitchen))
    assert caught.value.code == "does-not-follow"


def test_two_machines_that_both_go_on_are_told_by_a_head(kitchen: Path, tmp_path: Path) -> None:
    config = moved(kitchen, tmp_path)
    weigh(config, "later-0002")
    head = tmp_path / "head.json"
    head.write_text(json.dumps(head_of(config).as_json()))
    weigh(kitchen, "other-0002")  # the old machine was switched on by mistake
    weigh(kitchen, "other-0003")
    verify_file(database(config), heads=[head])
    with pytest.raises(RecordError) as caught:
        verify_file(database(kitchen), heads=[head])
    assert caught.value.code == "rewritten"


def test_the_steps_of_the_readme(kitchen: Path, tmp_path: Path) -> None:
    """As they are typed, the passphrase out of a file."""
    word, new = tmp_path / "word", tmp_path / "new"
    word.write_text(SECRET)
    stick = tmp_path / "stick"
    sealed = ("--with-key", "--passphrase-file", word)
    assert run("backup", stick, "--config", kitchen, *sealed).returncode == 0
    (copy,) = stick.iterdir()
    done = run("restore", copy, new, *sealed)
    assert (done.returncode, done.stderr) == (0, "")
    config = new / "weighd.toml"
    done = run("verify", database(config), "--key", key_of(kitchen))
    assert (done.returncode, done.stderr) == (0, "")
    with pytest.raises(OperatorError) as caught:
        put_back(copy, tmp_path / "never", "not those four words")
    assert caught.value.code == "wrong-passphrase"
    assert not (tmp_path / "never").exists()


def test_a_sealed_key_opens_only_with_its_passphrase_and_only_as_it_was_sealed(
    kitchen: Path, tmp_path: Path
) -> None:
    path = database(kitchen).with_name(KEY_FILE)
    text = sealed_key.seal_key(path, SECRET)
    assert sealed_key.open_key(text, SECRET, "") == path.read_bytes()
    assert text != sealed_key.seal_key(path, SECRET)  # another salt each time

    def code(text: str, passphrase: str = SECRET) -> str:
        with pytest.raises(OperatorError) as caught:
            sealed_key.open_key(text, passphrase, "a place")
        return caught.value.code

    assert code(text, SECRET + " ") == "wrong-passphrase"
    row = json.loads(text)
    for name, value in (("key", "00" * 32), ("sealed", "00" * 40)):
        assert code(json.dumps({**row, name: value})) == "wrong-passphrase"
    for name, value in (
        ("kdf", {**row["kdf"], "n": 2**30}),
        ("kdf", {**row["kdf"], "r": 10**6}),
        ("kdf", {**row["kdf"], "name": "none"}),
        ("weighd_sealed_key", 2),
        ("sealed", "xy"),
    ):
        assert code(json.dumps({**row, name: value})) == "not-a-sealed-key"
    for broken in ("", "[]", "{}", "[" * 90_000):
        assert code(broken) == "not-a-sealed-key"
    with pytest.raises(OperatorError) as caught:
        sealed_key.seal_key(path, "short")
    assert caught.value.code == "short-passphrase"


def test_a_copy_from_before_keys_were_sealed_still_brings_its_key(
    kitchen: Path, tmp_path: Path
) -> None:
    copy = back_up(kitchen, tmp_path / "stick", keep=None).copy.folder
    key = database(kitchen).with_name(KEY_FILE)
    shutil.copyfile(key, copy / "record" / KEY_FILE)
    manifest = json.loads((copy / "copy.json").read_text())
    data = key.read_bytes()
    manifest["files"].append(
        {
            "place": f"record/{KEY_FILE}",
            "size": len(data),
            "sha256": hashlib.sha256(data).hexdigest(),
        }
    )
    (copy / "copy.json").write_text(json.dumps(manifest))
    done = put_back(copy, tmp_path / "new")
    assert done.config is not None
    assert key_of(done.config) == key_of(kitchen)
