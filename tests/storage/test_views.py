"""The views for analysts: every value is the record's, on SQLite and, where it is, PostgreSQL.

They are asked as an analyst would, by the database's own means and without any of weighd's code.
"""

from __future__ import annotations

import json
import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from tests.reports.put_right import put_right
from tests.reports.records import GOLDEN
from tests.servers import Postgres
from tests.storage.kitchens import resealed
from weighd.domain.record import Tail
from weighd.domain.verify import export, read_checks, read_export
from weighd.reports.columns import COLUMNS, Of, table_rows
from weighd.reports.tables import TABLES
from weighd.reports.told import Record
from weighd.storage.journal import open_journal, open_read_only
from weighd.storage.keys import KEY_FILE, station_key
from weighd.storage.views import views

PAGE = (Path(__file__).parents[2] / "docs" / "reference" / "sql.md").read_text("utf-8")


@pytest.fixture(scope="module")
def kept(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, list[dict[str, Any]]]:
    """A database with all golden records, each a batch, and their documents as it has them."""
    folder = tmp_path_factory.mktemp("data")
    journal = open_journal(folder / "weighd.db", "mill")
    journal.signer = station_key(folder / KEY_FILE)
    tail, documents = Tail(), []
    golden = [json.loads(file.read_text("utf-8")) for file in GOLDEN]
    for n, document in enumerate((*golden, put_right()), start=1):
        batch = f"mill-{n:04d}"
        checks, own = read_checks(document), read_export(document)
        every = sorted((*checks, *own), key=lambda one: one.seq)
        made = resealed(every, tail, batch)
        for one in made:
            journal.append([one])
        tail = Tail(made[-1].seq, made[-1].hash)
        mine = [one for one in made if "batch" in one.body]
        documents.append(export("mill", batch, mine, [one for one in made if one not in mine]))
    journal.close()
    return folder / "weighd.db", documents


@pytest.fixture(params=["sqlite", "postgresql"])
def ask(request: pytest.FixtureRequest, kept: tuple[Path, list[dict[str, Any]]]) -> Iterator[Any]:
    """Asks a database one thing; answers are rows by column, values as text or ``None``."""
    if request.param == "postgresql":
        yield request.getfixturevalue("postgresql")
        return
    with closing(sqlite3.connect(f"file:{kept[0]}?mode=ro", uri=True)) as connection:
        connection.row_factory = sqlite3.Row

        def answer(question: str) -> list[dict[str, str | None]]:
            rows = [dict(one) for one in connection.execute(question)]
            return [
                {key: None if value is None else str(value) for key, value in row.items()}
                for row in rows
            ]

        yield answer


def as_text(value: object) -> str | None:
    return None if value is None else str(value)


def test_weighings_are_those_of_the_record(ask: Any, kept: Any) -> None:
    rows = ask("SELECT * FROM weighings ORDER BY entry")
    due = [row for one in kept[1] for row in table_rows(Record(one))]
    assert len(rows) == len(due) >= 30
    names = [one.name for one in COLUMNS]
    for row, told in zip(rows, due, strict=True):
        assert list(row)[: len(names)] == names
        assert {name: row[name] for name in names} == {
            name: as_text(value) for name, value in told.items()
        }
        for name in ("target_g", "low_g", "high_g", "net_g", "deviation_g", "u_g"):
            assert float(row[f"{name}_real"]) == pytest.approx(float(Decimal(str(told[name]))))
    assert {one.name for one in COLUMNS if one.of is Of.COUNT} == {"addition", "entry"}


def test_batches_are_those_of_the_record(ask: Any, kept: Any) -> None:
    rows = ask("SELECT * FROM batches ORDER BY batch")
    for row, document in zip(rows, kept[1], strict=True):
        record = Record(document)
        first, entries = record.opening, record.entries
        assert row["batch"] == record.batch
        assert row["status"] == record.status
        assert (row["opened"], row["ended"]) == (record.opened, record.ended or None)
        assert row["batch_g"] == first["batch_g"]
        assert float(str(row["batch_g_real"])) == float(first["batch_g"])
        assert row["formula_revision"] == first["formula"]["revision"]
        names = {"operator": "Dora"} if row["corrections"] != "0" else first
        assert (row["operator"], row["operator_recorded"]) == (names["operator"], first["operator"])
        assert row["corrections"] == str(len(record.of("corrected")))
        assert row["planned"] == str(len(first["additions"]))
        assert row["weighed"] == str(len(record.of("addition accepted")))
        assert row["entries"] == str(len(entries))
        assert (row["last_entry"], row["hash"]) == (str(entries[-1]["seq"]), entries[-1]["hash"])
        assert len(str(row["signed_by"])) == 64


def test_deviations_are_what_was_not_as_it_should_be(ask: Any, kept: Any) -> None:
    rows = ask("SELECT * FROM deviations ORDER BY entry")
    due = [
        one
        for document in kept[1]
        for one in document["entries"]
        if one["kind"] in ("held", "decided", "resumed", "put right", "batch abandoned")
        or one["body"].get("verdict", "on target") != "on target"
    ]
    assert [row["entry"] for row in rows] == [str(one["seq"]) for one in due]
    for row, one in zip(rows, due, strict=True):
        body = one["body"]
        assert (row["kind"], row["at"], row["hash"]) == (one["kind"], one["at"], one["hash"])
        assert row["addition"] == str(body["addition"])
        what = body.get("verdict", body.get("decision", body.get("way", body.get("cause"))))
        assert row["what"] == what
        assert row["sum_g"] == body.get("sum_g", body.get("net_g"))
        assert row["reason_recorded"] == (body.get("reason") or None)
        assert row["operator"] == (body.get("by", body.get("operator")) or None)
        stands = "the spout drips" if row["corrected"] else row["reason_recorded"]
        assert row["reason"] == stands
    assert {"over", "take out", "scale lost", "scale silent", None} <= {row["what"] for row in rows}


@pytest.mark.parametrize("name", ["batches", "deviations", "corrections"])
def test_tables_of_the_same_name_have_the_same_rows(name: str, ask: Any, kept: Any) -> None:
    """Views and exported tables tell the same, by two ways that share no code."""
    rows = ask(
        f"SELECT * FROM {name} ORDER BY station, {'batch' if name == 'batches' else 'entry'}"
    )
    names = [one.name for one in TABLES[name].heads]
    due = [row for one in kept[1] for row in TABLES[name].rows(Record(one))]
    for row, told in zip(rows, due, strict=True):
        assert set(names) == {one for one in row if not one.endswith("_real")}
        told = {**told, "signed_by": row["signed_by"]} if name == "batches" else told
        assert {one: row[one] for one in names} == {one: as_text(told[one]) for one in names}
    assert rows


def test_what_was_put_right_stands_beside_what_was_recorded(ask: Any) -> None:
    rows = ask("SELECT * FROM weighings WHERE corrected IS NOT NULL ORDER BY entry")
    first, second = rows
    assert first["corrected"] == "lot 1, lot 2, operator"
    assert (first["lot"], first["operator"]) == ('L"3\\é', "Cleo")
    assert first["operator_recorded"] == "Tester"
    lots = [
        [(one["lot"], one["g"]) for one in json.loads(str(first[name]))]
        for name in ("lots", "lots_recorded")
    ]
    assert lots[0] == [("", lots[1][0][1]), ('L"3\\é', lots[1][1][1])]
    assert first["lot_recorded"] == lots[1][1][0]
    assert (second["reason"], second["reason_recorded"]) == ("the spout drips", "it pours so")
    assert second["corrected"] == "reason"


def test_each_correction_is_a_row(ask: Any, kept: Any) -> None:
    rows = ask("SELECT * FROM corrections ORDER BY entry")
    due = kept[1][-1]["entries"]
    for row, one in zip(rows, [it for it in due if it["kind"] == "corrected"], strict=True):
        body = one["body"]
        assert (row["entry"], row["at"], row["hash"]) == (str(one["seq"]), one["at"], one["hash"])
        of = due[body["of"]["n"] - 1]
        assert (row["of_entry"], row["of_kind"]) == (str(of["seq"]), of["kind"])
        assert row["addition"] == as_text(of["body"].get("addition"))
        told = [row[name] for name in ("field", "old", "new", "reason", "operator", "although")]
        assert told == [
            body.get(name) or None for name in ("field", "old", "new", "reason", "by", "although")
        ]
    assert len(rows) == 6


def test_checks_and_what_was_found_with_each_weight(ask: Any, kept: Any) -> None:
    due = [one for document in kept[1] for one in document.get("checks", [])]
    rows = ask("SELECT * FROM checks ORDER BY entry")
    assert [row["outcome"] for row in rows] == [one["body"]["outcome"] for one in due]
    assert [row["limit_g"] for row in rows] == [one["body"]["limit_g"] for one in due]
    assert rows[0]["steps"] == str(len(due[0]["body"]["steps"]))
    steps = ask("SELECT * FROM check_steps ORDER BY entry, step")
    flat = [(one, step) for one in due for step in one["body"]["steps"]]
    for row, (one, step) in zip(steps, flat, strict=True):
        assert (row["entry"], row["step"]) == (str(one["seq"]), str(step["n"]))
        assert (row["part"], row["place"]) == (step["part"], step["place"])
        assert (row["error_g"], row["outcome"]) == (step["error_g"], step["outcome"])
        assert row["weight"] == (step["weight"] or {}).get("name")
        assert float(str(row["error_g_real"])) == float(step["error_g"])


def test_a_question_an_analyst_may_have(ask: Any) -> None:
    """The one in the documentation: what is over-poured most."""
    question = PAGE[PAGE.index("SELECT ingredient") :]
    rows = ask(question[: question.index(";")])
    assert rows
    assert {"ingredient", "weighings"} <= set(rows[0])


def test_every_view_and_column_is_documented(ask: Any) -> None:
    for name in views("sqlite"):
        row = PAGE[PAGE.index(f"| `{name}` |") :].split("\n", 1)[0]
        found = ask(f"SELECT * FROM {name} LIMIT 1")
        for column in found[0]:
            if name == "weighings" and not column.endswith("_real"):
                continue  # those of the CSV, which has a table of its own
            assert f"`{column}`" in row, (name, column)


def test_views_hold_nothing_and_may_go(
    kept: tuple[Path, list[dict[str, Any]]], tmp_path: Path
) -> None:
    copy = tmp_path / "weighd.db"
    shutil.copy(kept[0], copy)
    before = list(open_read_only(copy, "mill").entries())
    with closing(sqlite3.connect(copy)) as connection:
        for name in views("sqlite"):
            connection.execute(f"DROP VIEW {name}")
        connection.commit()
    journal = open_journal(copy, "mill")
    assert list(journal.entries()) == before
    assert len(before) > 70
    journal.close()


# --- the same on PostgreSQL -----------------------------------------------------------------------


@pytest.fixture(scope="module")
def postgresql(postgres: Postgres, kept: tuple[Path, list[dict[str, Any]]]) -> Any:
    """A database with the tables ``entry`` and ``signature``."""
    postgres.create("views")
    postgres.ask(_script(kept[0]), database="views")

    def answer(question: str) -> list[dict[str, str | None]]:
        asked = f"SELECT coalesce(json_agg(q), '[]') FROM ({question}) q"
        rows = json.loads(postgres.ask(asked, "-t", "-A", database="views"), parse_float=str)
        return [{key: as_text(value) for key, value in row.items()} for row in rows]

    return answer


def _script(database: Path) -> str:
    """The tables with their rows, and the views, as statements."""
    entry = "station text, seq bigint, kind text, at text, batch text, key text, body text"
    signature = "station text, seq bigint, key text, batch text, entries integer, head text"
    out = [
        f"CREATE TABLE entry ({entry}, prev text, hash text);",
        f"CREATE TABLE signature ({signature}, value text);",
    ]
    with closing(sqlite3.connect(database)) as connection:
        for table in ("entry", "signature"):
            for row in connection.execute(f"SELECT * FROM {table}"):
                values = (
                    "NULL" if one is None else "'" + str(one).replace("'", "''") + "'"
                    for one in row
                )
                out.append(f"INSERT INTO {table} VALUES ({', '.join(values)});")
    out += [f"CREATE VIEW {name} AS {select};" for name, select in views("postgresql").items()]
    return "\n".join(out)


def _literal(value: object) -> str:
    return "NULL" if value is None else "'" + str(value).replace("'", "''") + "'"
