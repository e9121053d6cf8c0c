"""``weighd recover``: an export, a session and a database, in words and as JSON."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from tests.forked import run
from tests.station.putting_right import SUCROSE_LAST, Cook, own_mix
from weighd.domain.verify import export
from weighd.storage.journal import open_journal


@pytest.fixture
def held(tmp_path: Path) -> Path:
    """The export of a batch that is held: 352 g of sucrose for 330, everything else in."""
    cook = Cook()
    cook.begin(own_mix(SUCROSE_LAST))
    cook.weigh(until="sucrose")
    cook.add("352")
    file = tmp_path / "held.json"
    file.write_text(json.dumps(export("test", cook.state.id, cook.journal)))
    return file


def test_the_ways_are_told_in_words(held: Path) -> None:
    done = run("recover", held, "--text", "--dry", "no")
    assert (done.returncode, done.stderr) == (0, "")
    lines = done.stdout.splitlines()
    assert lines[0].endswith("Sucrose: over.")
    assert "352.0 g are in, where 330 g were wanted (328 to 332 g)." in lines
    assert "1. Add the least that brings it back" in lines
    assert "2. Make the whole batch larger" in lines
    assert "- Take it out again (does not go)" in lines
    assert any("our own proposal, no source" in line for line in lines)
    assert any("common practice, no source" in line for line in lines)


def test_and_as_json(held: Path) -> None:
    done = run("recover", held, "--bowl-holds-g", "2430")
    told = json.loads(done.stdout)
    enlarge = next(one for one in told["options"] if one["way"] == "enlarge")
    assert enlarge["why_not"]["code"] == "bowl-too-small"
    nothing = next(one for one in told["options"] if one["way"] == "smallest addition")
    assert nothing["why_not"]["code"] == "no-correction-fits"
    assert nothing["fight"]


def test_a_wrong_ingredient_may_be_of_the_table_that_ships(held: Path) -> None:
    done = run("recover", held, "--was", "no-such-thing")
    assert done.returncode == 2
    assert 'no ingredient "no-such-thing"' in done.stderr
    assert done.stderr.startswith("weighd: was:")


@pytest.mark.parametrize(
    ("given", "field"),
    [
        (("--cause", "spilled"), "cause"),
        (("--bowl-holds-g", "0"), "bowl_holds_g"),
        (("--on-hand", "sucrose"), "on_hand"),
        (("--net-g", "inf"), "net_g"),
        (("--dry", "perhaps"), "dry"),
    ],
)
def test_bad_input_names_its_field(held: Path, given: tuple[str, ...], field: str) -> None:
    done = run("recover", held, *given)
    assert done.returncode == 2
    assert done.stderr.startswith(f"weighd: {field}:"), done.stderr


def test_a_session_is_looked_at_as_it_stood(tmp_path: Path) -> None:
    session = next(Path("fixtures/sessions").glob("*over*.jsonl"), None)
    assert session is not None
    ends = json.loads(session.read_text().splitlines()[-1])["t"]
    for until in range(0, int(ends), 1):
        done = run("recover", session, "--until", str(until), "--text")
        if done.returncode == 0 and ": over." in done.stdout:
            assert "Make the whole batch larger" in done.stdout
            return
        assert done.returncode == 2, done.stderr
    raise AssertionError("it was never over")


def test_what_is_no_record_is_refused(tmp_path: Path) -> None:
    file = tmp_path / "nothing.json"
    file.write_text("{}")
    done = run("recover", file)
    assert done.returncode == 1
    assert "not an as-weighed record" in done.stderr


def test_a_database_says_what_is_there_and_what_comes_out_as_the_scale_shows_it(
    tmp_path: Path,
) -> None:
    """In a database the lots stand too; of what is to come out, tenths."""
    cook = Cook()
    for ingredient, grams in (("milk", "100"), ("milk", "60"), ("cream", "900")):
        goods = {"ingredient": ingredient, "quantity_g": grams}
        cook.do("receive lot", by="Ada", goods=goods)
    cook.begin(own_mix(SUCROSE_LAST), batch_g="2403.7")
    cook.weigh(until="sucrose")
    cook.add("353")
    journal = open_journal(tmp_path / "weighd.db", "test")
    for one in cook.journal:
        journal.append([one])
    journal.close()
    done = run("recover", cook.state.id, "--database", tmp_path / "weighd.db", "--text")
    assert (done.returncode, done.stderr) == (0, "")
    lines = done.stdout.splitlines()
    assert "  Milk: 160.0 g, by the books, in R-0001, R-0002" in lines
    assert "  Cream: 900.0 g, by the books, in R-0003" in lines
    (out,) = [one for one in lines if " g out; at least " in one]
    assert re.fullmatch(r"   \d+\.\d g out; at least \d+\.\d g", out)
