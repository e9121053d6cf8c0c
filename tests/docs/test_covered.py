"""What a user can type, ask for or be told stands in the documentation, with what it means.

The reference pages are drawn from the code, so a new name stands there by itself; what fails here
is a name without a meaning, or a page that lost its mark. Each failure says where to describe it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from docs.making import (
    codes,
    commands,
    exits,
    formulas,
    frames,
    keys,
    measured,
    pages,
    recorded,
    routes,
    wire,
)
from docs.making.codes_said import MEANS, TO_DO
from docs.making.environment_said import ENVIRONMENT
from docs.making.fields_said import FIELDS
from docs.making.log_said import EVENTS
from weighd.domain.check_record import CHECKED
from weighd.domain.kinds import Kind
from weighd.domain.metrology import Verdict
from weighd.domain.people import ABOUT, Right
from weighd.http.errors import OF_CODE
from weighd.http.rights import COMMANDS, ROUTES

#: A name, what is said of it, and where that belongs.
Said = tuple[str, str, str]


def of_keys() -> Iterator[Said]:
    for one in keys.configuration():
        yield one.key, one.meaning if one.kind else "", one.where


def of_driver_keys() -> Iterator[Said]:
    for driver in keys.DRIVERS:
        for one in keys.of_driver(driver):
            yield one.key, one.meaning, one.where


def of_commands() -> Iterator[Said]:
    for name, command in commands.commands():
        yield f"weighd {name}", command.help or "", f"docstring of the command {name}, weighd/cli"


def of_options() -> Iterator[Said]:
    for name, command in commands.commands():
        for one in commands.given(command):
            where = f"help= of {one.name} of the command {name}, weighd/cli"
            yield commands.spelled(one), one.help or "", where


def of_codes() -> Iterator[Said]:
    for one in codes.refusals().values():
        place = ", ".join(one.places[:2]) or "weighd/http/errors.py"
        yield one.code, one.meaning, f"MEANS in docs/making/codes_said.py; it is made at {place}"


def of_remedies() -> Iterator[Said]:
    for one in codes.refusals().values():
        place = ", ".join(one.places[:2]) or "TO_DO in docs/making/codes_said.py"
        yield one.code, one.to_do, f"remedy= at {place}, or TO_DO in docs/making/codes_said.py"


def of_exits() -> Iterator[Said]:
    for one in exits.every():
        yield str(one), exits.SAID.get(one, ""), "SAID in docs/making/exits.py"


def of_metrics() -> Iterator[Said]:
    for one in measured.metrics():
        yield one.name, one.about, "its help text in weighd/http/metrics.py"


def of_events() -> Iterator[Said]:
    for one in measured.events():
        where = f"EVENTS in docs/making/log_said.py; it is logged at {one.place}"
        yield one.text, EVENTS.get(one.text, ""), where


def of_environment() -> Iterator[Said]:
    for name, place in measured.environment().items():
        where = f"ENVIRONMENT in docs/making/environment_said.py; it is read at {place}"
        yield name, ENVIRONMENT.get(name, ""), where


def of_entries() -> Iterator[Said]:
    for kind in recorded.entry_kinds():
        about = str(recorded.body_of(kind).get("description", ""))
        name = kind.replace(" ", "-")
        yield kind, about, f"description of body-of-{name} in weighd/data/record.schema.json"


def of_entry_fields() -> Iterator[Said]:
    parts = {one: recorded.body_of(one) for one in recorded.entry_kinds()}
    defs = recorded.schema("record")["$defs"]
    parts |= {name: one for name, one in defs.items() if not name.startswith("body-of-")}
    for part, one in parts.items():
        for name, _, about in recorded.fields(one, part):
            where = f"{name} of {part}, description in weighd/data/record.schema.json"
            yield name.split("`")[1], about, f"{where}, or SAID in docs/making/record_said.py"


def of_floor() -> Iterator[Said]:
    for section, one in recorded.schema("floor")["$defs"].items():
        for name, _, about in recorded.fields(one, of="floor"):
            yield name.split("`")[1], about, f"{name} of {section}, weighd/data/floor.schema.json"


def of_frames() -> Iterator[Said]:
    for kind in frames.kinds():
        yield kind, frames.SAID.get(kind, ("", ""))[1], "SAID in docs/making/frames.py"
    for section in frames.sections():
        about = frames.SECTIONS_SAID.get(section, "")
        yield section, about, "SECTIONS_SAID in docs/making/frames.py"


def of_fields() -> Iterator[Said]:
    for table, names in formulas.fields().items():
        for name in names:
            about = FIELDS.get(table, {}).get(name, "")
            yield name, about, f"FIELDS, {table or 'the file itself'}, docs/making/fields_said.py"


def of_routes() -> Iterator[Said]:
    for method, path, route in routes.routes():
        yield f"{method} {path}", str(route.get("description", "")), "docstring of the route"


def of_columns() -> Iterator[Said]:
    for one in recorded.COLUMNS:
        yield one.name, one.about, "about of the column in weighd/reports/columns.py"


def of_shapes() -> Iterator[Said]:
    for table, model in wire.MODELS.items():
        said = wire.meanings(model)
        for key in model.model_fields:
            if key != "kind" or "field" not in table:
                yield key, said.get(key, ""), f"docstring of {model.__name__}: ``{key}``  ..."


#: What is gathered, and the page on which every name of it stands as code.
GATHERED: dict[str, tuple[Callable[[], Iterator[Said]], str]] = {
    "keys": (of_keys, "reference/configuration.md"),
    "keys of drivers": (of_driver_keys, "reference/configuration.md"),
    "commands": (of_commands, "reference/commands.md"),
    "options": (of_options, "reference/commands.md"),
    "codes": (of_codes, "reference/errors.md"),
    "remedies": (of_remedies, "reference/errors.md"),
    "exit codes": (of_exits, "reference/exit-codes.md"),
    "metrics": (of_metrics, "reference/metrics.md"),
    "log events": (of_events, "reference/log.md"),
    "environment": (of_environment, "reference/environment.md"),
    "entries": (of_entries, "reference/record.md"),
    "fields of entries": (of_entry_fields, "reference/record.md"),
    "messages of the floor": (of_floor, "reference/floor.md"),
    "frames": (of_frames, "reference/live.md"),
    "formula fields": (of_fields, "reference/formula-files.md"),
    "routes": (of_routes, "reference/http.md"),
    "columns": (of_columns, "reference/tables.md"),
    "wire shapes": (of_shapes, "reference/wire-shapes.md"),
}


def missing(gathered: Iterator[Said], text: str) -> list[str]:
    """A message for each name that is not on the page, or has no meaning there."""
    out = []
    for name, said, where in gathered:
        if len(said.strip()) < 5:
            out.append(f"{name} has no meaning; describe it here: {where}")
        elif f"`{name}`" not in text:
            out.append(f"{name} is on no page; its page has lost its mark <!-- made: ... -->")
    return out


@pytest.mark.parametrize("what", GATHERED)
def test_all_is_described(what: str) -> None:
    gather, page = GATHERED[what]
    names = list(gather())
    assert len(names) >= 3
    if found := missing(iter(names), pages.read(page)):
        pytest.fail("\n".join(found), pytrace=False)


def test_what_is_missing_is_seen(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A key, a code or an event that nobody described fails, and says where to describe it."""
    nameless = keys.Told("people.shoes", "number", "", "", "description= of shoes in sections")
    monkeypatch.setattr(keys, "configuration", lambda: [nameless])
    assert missing(of_keys(), "") == [
        "people.shoes has no meaning; describe it here: description= of shoes in sections"
    ]
    source = tmp_path / "weighd" / "new.py"
    source.parent.mkdir()
    source.write_text(
        'raise OperatorError("no-shoes", "There are no shoes here.")\nlog.info("shoes are lost")\n'
        'os.environ.get("WEIGHD_SHOES")\n'
    )
    for module in (codes, measured):
        monkeypatch.setattr(module, "ROOT", tmp_path)
    monkeypatch.setattr(codes, "refusals", codes.refusals.__wrapped__)
    (told,) = [one for one in missing(of_remedies(), "`no-shoes`") if one.startswith("no-shoes")]
    assert "weighd/new.py:1" in told
    assert "docs/making/codes_said.py" in told
    (event,) = missing(of_events(), "")
    assert "weighd/new.py:2" in event
    (variable,) = missing(of_environment(), "")
    assert "WEIGHD_SHOES" in variable
    # A meaning without a place on the page fails as well.
    assert missing(iter([("known", "It is known.", "")]), "no name") == [
        "known is on no page; its page has lost its mark <!-- made: ... -->"
    ]


def test_nothing_is_described_that_there_is_not() -> None:
    known = set(codes.refusals())
    assert {*MEANS, *TO_DO} <= known
    assert set(EVENTS) <= {one.text for one in measured.events()}
    assert set(frames.SAID) <= set(frames.kinds())
    assert set(frames.SECTIONS_SAID) <= set(frames.sections())
    assert {of: set(said) for of, said in FIELDS.items()} == {
        of: set(names) for of, names in formulas.fields().items()
    }


def test_what_is_read_out_of_the_source_is_all_there_is() -> None:
    """The codes with a status, the kinds of entry and the rights stand in tables of their own."""
    assert set(OF_CODE) <= set(codes.refusals())
    assert len(codes.refusals()) > 250
    assert {str(one) for one in Kind} | {CHECKED} <= set(recorded.entry_kinds())
    declared = {(method, path) for method, path, _ in routes.routes()}
    assert set(ROUTES) <= declared
    http = pages.read("reference/http.md")
    assert all(f"| `{name}` |" in http for name in COMMANDS)


def test_every_command_stands_in_the_overview_and_helps() -> None:
    overview = (pages.DOCS / "reference/commands.md").read_text("utf-8")
    for name, command in commands.commands():
        if " " not in name:
            assert f"| `weighd {name}` |" in overview, (
                f"weighd {name} has no row; describe it here: docs/reference/commands.md"
            )
            assert command.help, name
            assert len(command.help) > 40, name


def test_every_verdict_and_right_is_explained() -> None:
    weigh = pages.read("how-to/weigh-a-batch.md")
    assert all(f"| {verdict} |" in weigh for verdict in Verdict)
    people = pages.read("how-to/people.md")
    assert all(f"| {right} |" in people for right in Right)
    assert set(ABOUT) == set(Right)
