"""TOML changed as a person would: what is meant changes, and nothing else."""

from __future__ import annotations

import contextlib
import copy
import tomllib
from importlib.resources import files
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from weighd.storage.toml_edit import EditError, comments, edited

LARDER = (files("weighd.data") / "formulas" / "ingredients.toml").read_text("utf-8")
LIMITS = (files("weighd.data") / "limits.toml").read_text("utf-8")
SORBET = """\
# Invented.
name = "Sorbet"   # as it stands on the board
note = '''
Two
lines.'''

# first the water
[[additions]]
ingredient = "water"
target = "1,0 kg"     # tap
tolerance = "1 %"

# now the sugar: it must be dry
[[additions]]
ingredient = "sugar"
target = "300 g"
tolerance = "2 g"

[[additions]]
ingredient = "lemon"
target = "400 g"
tolerance = "2 g"

# and then
[[steps]]
do = "chill"
"""


def changed(before: str, after: str) -> set[str]:
    return set(before.splitlines()) ^ set(after.splitlines())


def test_one_number_changes_one_line() -> None:
    wanted = tomllib.loads(LARDER)
    wanted["ingredients"]["cream"]["composition"]["fat"] = 35.5
    assert changed(LARDER, edited(LARDER, wanted)) == {"fat = 36.08", "fat = 35.5"}
    wanted = tomllib.loads(SORBET)
    wanted["additions"][0]["target"] = "900 g"
    assert changed(SORBET, edited(SORBET, wanted)) == {
        'target = "1,0 kg"     # tap',
        'target = "900 g"     # tap',
    }
    limits = tomllib.loads(LIMITS)
    limits["classes"]["ice-cream"]["limits"][0]["max"] = 17.25
    assert edited(LIMITS, limits) == LIMITS.replace("max = 16\n", "max = 17.25\n", 1)


def test_rows_move_with_the_comments_ahead_of_them() -> None:
    wanted = tomllib.loads(SORBET)
    water, sugar, lemon = wanted["additions"]
    wanted["additions"] = [sugar, {**lemon, "ingredient": "lime"}, water]
    out = edited(SORBET, wanted, {("additions",): [1, None, 0]})
    assert set(comments(out)) == set(comments(SORBET))
    lines = out.splitlines()
    assert lines[lines.index("# now the sugar: it must be dry") + 2] == 'ingredient = "sugar"'
    assert lines[lines.index("# and then") + 1] == "[[steps]]"
    assert tomllib.loads(out)["note"] == "Two\nlines."


def test_a_table_that_goes_leaves_the_comment_of_the_next() -> None:
    wanted = tomllib.loads(LARDER)
    del wanted["ingredients"]["hazelnut-paste"]
    out = edited(LARDER, wanted)
    assert set(comments(out)) == set(comments(LARDER))
    lines = out.splitlines()
    after = lines.index("# Nobody has weighed these up: a composition says what is missing.")
    assert lines[after + 1] == "[ingredients.wheat-flour]"


def test_new_keys_stand_beside_the_old_and_new_tables_behind_them() -> None:
    wanted = tomllib.loads(SORBET)
    wanted["kind"] = "sorbet"
    lines = edited(SORBET, wanted).splitlines()
    assert lines[lines.index('kind = "sorbet"') - 1] == "lines.'''"
    larder = tomllib.loads(LARDER)
    larder["ingredients"]["plum"] = {"name": "Plum", "composition": {"sugars": {"glucose": 5}}}
    out = edited(LARDER, larder)
    assert out.startswith(LARDER)
    assert out.endswith("[ingredients.plum.composition]\nsugars = { glucose = 5 }\n")


def test_a_file_from_another_system_keeps_its_line_ends() -> None:
    text = LARDER.replace("\n", "\r\n")
    wanted = tomllib.loads(text)
    wanted["ingredients"]["cream"]["composition"]["fat"] = 35.5
    assert edited(text, wanted) == text.replace("fat = 36.08\r", "fat = 35.5\r", 1)


def test_what_cannot_be_done_is_refused() -> None:
    with pytest.raises(EditError):
        edited("a = ", {"a": 1})
    apart = "[[rows]]\na = 1\n[other]\nb = 1\n[[rows]]\na = 2\n"
    wanted = {"rows": [{"a": 2}, {"a": 1}], "other": {"b": 1}}
    with contextlib.suppress(EditError):  # either is right; a text that reads otherwise is not
        assert tomllib.loads(edited(apart, wanted, {("rows",): [1, 0]})) == wanted


_KEYS = st.text("abcdefgh-", min_size=1, max_size=6).filter(lambda key: key.strip("-") == key)
_VALUES = st.one_of(
    st.integers(-9, 999),
    st.floats(0, 100, allow_nan=False).map(lambda value: round(value, 3)),
    st.text(max_size=12),
    st.lists(st.text("ab\"'\\", max_size=4), max_size=3),
)
_TABLES = st.dictionaries(_KEYS, _VALUES, max_size=4)
_DOCUMENTS = st.fixed_dictionaries(
    {
        "name": st.text(max_size=10),
        "ingredients": st.dictionaries(
            _KEYS,
            st.builds(lambda table, inner: {**table, "composition": inner}, _TABLES, _TABLES),
            max_size=4,
        ),
        "additions": st.lists(_TABLES.filter(bool), min_size=1, max_size=5),
    }
)


@settings(max_examples=80, deadline=None)
@given(_DOCUMENTS, _DOCUMENTS, st.randoms())
def test_any_document_becomes_any_other_or_is_refused(
    one: dict[str, Any], other: dict[str, Any], chance: Any
) -> None:
    text = edited("", one)
    assert tomllib.loads(text) == one
    rows = len(one["additions"])
    origins = [chance.choice([None, *range(rows)]) for _ in other["additions"]]
    origins = [
        n if n is not None and origins.index(n) == k else None for k, n in enumerate(origins)
    ]
    assert tomllib.loads(edited(text, copy.deepcopy(other), {("additions",): origins})) == other


STEPS = """\
name = "Sorbet"

[[additions]]
ingredient = "water"

# common practice
[[steps]]
kind = "mix"
cautions = [{ name = "hot", text = "Hold it." }] # by Bo

# cold, then
[[steps]]
kind = "cool"  # in ice
temperature = "at most 4 °C"   # or colder

# how it is sold
[product]
serving = "80 g"
"""


def test_a_list_of_tables_on_a_line_is_changed_on_its_line() -> None:
    wanted = tomllib.loads(STEPS)
    wanted["steps"][0]["cautions"].append({"name": "wet", "text": "Wipe it."})
    wanted["steps"][1]["cautions"] = [{"name": "cold", "text": "Gloves."}]
    wanted["steps"][1]["time"] = "within 1 h"
    row = 'cautions = [{ name = "hot", text = "Hold it." }'
    assert changed(STEPS, edited(STEPS, wanted)) == {
        f"{row}] # by Bo",
        row + ', { name = "wet", text = "Wipe it." }] # by Bo',
        'cautions = [{ name = "cold", text = "Gloves." }]',
        'time = "within 1 h"',
    }
    several = 'cautions = [\n    # first\n    { name = "a" },\n    { name = "b" }, # old\n]\n'
    wanted = {"cautions": [{"name": "b", "text": "y"}]}
    after = edited(several, {"cautions": [{"name": "b"}]})
    assert after == 'cautions = [\n    # first\n    { name = "b" }, # old\n]\n'
    assert list(comments(edited(after, wanted))) == ["# first"]
    assert '{ name = "b", text = "y" }, # old\n' in edited(after, wanted)


def test_a_key_comes_before_the_comment_of_what_follows() -> None:
    wanted = tomllib.loads(STEPS)
    wanted["steps"][1]["time"] = "within 1 h"
    assert 'or colder\ntime = "within 1 h"\n\n# how it is sold\n' in edited(STEPS, wanted)


def test_a_list_that_goes_leaves_its_comments_to_what_follows() -> None:
    wanted = tomllib.loads(STEPS)
    del wanted["steps"]
    after = edited(STEPS, wanted)
    assert list(comments(after)) == ["# common practice", "# cold, then", "# how it is sold"]
    assert after.endswith('# how it is sold\n[product]\nserving = "80 g"\n')
    first = STEPS[STEPS.index("[[steps]]") :]
    wanted = {"product": {"serving": "80 g"}}
    assert list(comments(edited(first, wanted))) == ["# cold, then", "# how it is sold"]


def test_rows_with_lists_of_tables_are_moved_added_and_taken_out() -> None:
    wanted = tomllib.loads(STEPS)
    mix, cool = wanted["steps"]
    age = {"kind": "age", "cautions": [{"name": "a", "text": "x"}, {"name": "b", "text": "y"}]}
    wanted["steps"] = [cool, age, mix]
    after = edited(STEPS, wanted, {("steps",): [1, None, 0]})
    assert (
        '[[steps]]\nkind = "age"\ncautions = [\n    { name = "a", text = "x" },\n'
        '    { name = "b", text = "y" },\n]\n\n[[steps]]\nkind = "mix"\n' in after
    )
    assert '# cold, then\n[[steps]]\nkind = "cool"  # in ice\n' in after
    assert list(comments(after)) == ["# common practice", "# cold, then", "# how it is sold"]
