"""Wire shapes as values and as files that people edit."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.drivers.line_cases import CASES
from weighd.domain.errors import ScaleError
from weighd.domain.mass import Unit
from weighd_drivers.auto import decoder_for, redecoder_for
from weighd_drivers.shape_text import (
    as_json,
    dump,
    from_json,
    load,
    named,
    parse,
    shape_names,
    shape_of,
    shipped,
    spec_of,
)
from weighd_drivers.shapes import UNIT_WORDS, WireShape, mark_bytes

SHAPES = [*shipped().values(), *{id(one.shape): one.value() for one in CASES}.values()]
LEAST = 'shape = 1\nname = "own"\nunit = "g"\n\n[[field]]\nkind = "number"\n'


@pytest.mark.parametrize("title", ["Küchenwaage", "\U0001f366 \U00010348", "\x7f\x1b\t\n", '"\\"'])
def test_a_title_in_any_script_is_written_so_that_it_reads_again(title: str) -> None:
    """Found by fuzzing: TOML has no surrogates, of which JSON makes what lies beyond 16 bits."""
    shape = named("digits").model_copy(update={"title": title, "name": "mine"})
    assert parse(dump(shape)) == shape


@pytest.mark.parametrize("shape", SHAPES, ids=lambda one: one.name)
def test_a_shape_written_and_read_is_the_same(shape: WireShape, tmp_path: Path) -> None:
    file = tmp_path / "mine.toml"
    file.write_text(dump(shape), "utf-8")
    assert load(file) == shape
    assert from_json(json.loads(json.dumps(as_json(shape)))) == shape
    assert shape_of(json.loads(json.dumps(spec_of(shape)))) == shape


def test_shipped_shapes_are_named_by_their_files_and_tell_what_they_are() -> None:
    for name, shape in shipped().items():
        assert shape.name == name
        assert shape.title
        assert shape.source
        assert spec_of(shape) == {"shape": name}
    assert list(shape_names()) == list(shipped())


def test_a_changed_copy_of_a_shipped_shape_is_kept_whole_as_evidence() -> None:
    mine = named("digits").model_copy(update={"title": "mine"})
    assert isinstance(spec_of(mine)["shape"], dict)
    assert spec_of(named("digits", Unit.LB)) == {"shape": "digits", "unit": "lb"}


def test_a_shape_file_is_a_decoder(tmp_path: Path) -> None:
    file = tmp_path / "own.toml"
    file.write_text(LEAST, "utf-8")
    decoder = decoder_for(str(file), joined=True)
    (reading,) = decoder.feed(0, b"12.5\r\n")
    file.unlink()  # what is in the record must do without the file
    (again,) = redecoder_for(json.loads(json.dumps(decoder.spec))).feed(0, reading.raw)
    assert again.grams == reading.grams


@pytest.mark.parametrize(
    ("text", "line", "says"),
    [
        ("shape = 1\nname = \n", 2, "value"),
        (LEAST + "wdith = 3\n", 7, "wdith"),
        (LEAST + 'width = "3"\n', 7, "width"),
        (LEAST + 'point = ";"\n', 7, "point"),
        (LEAST + '\n[[field]]\nkind = "nmber"\n', 8, "nmber"),
        (LEAST + '\n[[field]]\nkind = "status"\nwords = { "S" = "still" }\n', 10, "words"),
        ('shape = 2\nname = "own"\nfield = []\n', 1, "shape"),
        ('shape = 1\nname = "Own Shape"\n\n[[field]]\nkind = "number"\n', 2, "name"),
        ('shape = 1\nname = "own"\nunit = "stone"\n\n[[field]]\nkind = "number"\n', 3, "unit"),
        (LEAST.replace("\n\n", '\n\n[frame]\nend = "CRLF"\n\n'), 5, "CRLF"),
        (LEAST.replace("\n\n", '\n\n[check]\nkind = "crc"\n\n'), 6, "kind"),
        (LEAST.replace('unit = "g"\n', ""), None, "implied"),
        ('shape = 1\nname = "own"\n\n[[field]]\nkind = "unit"\n', None, "no field is a number"),
        (LEAST + '\n[[field]]\nkind = "sign"\n', None, "sign"),
        (LEAST + '\n[[field]]\nkind = "literal"\ntext = "\\r"\n', None, "start or the end"),
        (LEAST.replace("\n\n", '\n\n[check]\nkind = "xor"\n\n'), None, "start"),
        (
            LEAST.replace("\n\n", '\n\n[check]\nkind = "xor"\nplace = "after data"\n\n'),
            None,
            "length",
        ),
        (LEAST.replace("\n\n", '\n\n[frame]\nend = ""\nlength = 3\n\n'), 5, "start and length"),
        (
            LEAST.replace("\n\n", '\n\n[frame]\nstart = "STX"\nend = ""\nlength = 3\n\n'),
            None,
            "one width",
        ),
        (LEAST.replace("\n\n", "\n\n[frame]\nlength = 200\n\n"), None, "never 200"),
    ],
)
def test_a_mistake_is_told_with_file_line_and_key(text: str, line: int | None, says: str) -> None:
    with pytest.raises(ScaleError) as raised:
        parse(text, "mine.toml")
    error = raised.value
    assert error.code == "bad-shape"
    assert error.where.startswith("mine.toml")
    assert says in error.message
    if line is not None:
        assert error.where == f"mine.toml, line {line}"


def test_a_missing_file_says_what_to_do(tmp_path: Path) -> None:
    with pytest.raises(ScaleError) as raised:
        named(str(tmp_path / "none.toml"))
    assert "shape file" in raised.value.remedy


@given(st.text(max_size=400))
@settings(max_examples=100, deadline=None)
def test_any_text_is_a_shape_or_a_told_mistake(text: str) -> None:
    try:
        parse(LEAST + text)
    except ScaleError as error:
        assert error.code == "bad-shape"


def test_marks_are_written_by_name_by_number_or_as_they_are() -> None:
    assert mark_bytes("STX") == b"\x02"
    assert mark_bytes("CR LF") == b"\r\n"
    assert mark_bytes("0x1B ;") == b"\x1b;"
    with pytest.raises(ValueError, match="CRLF"):
        mark_bytes("CRLF")


def test_units_that_mean_two_things_in_practice_are_not_read_unless_told() -> None:
    assert not {"gr", "MG", "T", "c"} & set(UNIT_WORDS)
