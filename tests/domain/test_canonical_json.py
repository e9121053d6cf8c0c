"""The quick way to canonical JSON gives what the package ``rfc8785`` gives."""

from __future__ import annotations

import hashlib
import json
import re
from typing import Any

import pytest
import rfc8785
from hypothesis import assume, given
from hypothesis import strategies as st

from weighd.domain.canonical_json import canonical_text
from weighd.domain.record import Entry, Tail, canonical, entry_hash, hash_around, seal

#: Texts that look like what is looked for in numbers, and characters that sort elsewhere in UTF-16.
TRAPS = (
    "12.0", ":12.0,", '":-0.0}', "[1e5,", ":1234567890123456,", '\\":1.0,', "\\", '"', "\x00\x1f",
    "\x7f\x80\u2028\ufb33", "\U00010000", "\uffff", "é", "",
)  # fmt: skip
numbers = (
    st.integers(-(2**53) + 1, 2**53 - 1)
    | st.floats(allow_nan=False, allow_infinity=False)
    | st.integers(-(10**7), 10**7).map(float)
    | st.sampled_from([0.0, -0.0, 1e15, 1e16, 1e21, 1e-4, 1e-5, 5e-324, 123456789012345.0])
)
texts = st.text(max_size=8) | st.sampled_from(TRAPS)
values = st.recursive(
    st.none() | st.booleans() | numbers | texts,
    lambda inside: st.lists(inside, max_size=4) | st.dictionaries(texts, inside, max_size=4),
    max_leaves=12,
)


@given(values)
def test_it_is_what_the_package_makes(value: Any) -> None:
    assert canonical_text(value).encode() == rfc8785.dumps(value)


@given(values)
def test_it_is_made_the_same_after_being_read(value: Any) -> None:
    text = canonical_text(value)
    # Read again, a whole double of so many digits is an integer that no double need hold.
    assume(not re.search(r"\d{16}", text))
    assert canonical_text(json.loads(text)) == text


@pytest.mark.parametrize(
    "value",
    [
        {1: 2},
        {"a": [{None: 1}]},
        [{True: 1}],
        {"a": float("nan")},
        [2**53],
        {"a": "\ud800"},
        {"\udc00": 1},
        [object()],
        {"a": {1, 2}},
        [float("inf")],
    ],
)
def test_what_json_cannot_hold_is_refused(value: Any) -> None:
    with pytest.raises((rfc8785.CanonicalizationError, UnicodeEncodeError)):
        canonical_text(value)


@given(st.integers(1, 2**53 - 1), texts, texts, texts, st.dictionaries(texts, values, max_size=3))
def test_a_hash_around_a_body_is_that_of_the_whole(
    seq: int, station: str, kind: str, at: str, body: dict[str, Any]
) -> None:
    whole = {"seq": seq, "station": station, "kind": kind, "at": at, "body": body, "prev": "0" * 64}
    told = hashlib.sha256(rfc8785.dumps(whole)).hexdigest()
    assert entry_hash(seq, station, kind, at, body, "0" * 64) == told
    text = canonical(body).decode()
    assert hash_around(text, seq, station, kind, at, "0" * 64) == told
    entry = seal(station, kind, at, body, Tail(seq - 1, "0" * 64))
    assert (entry.hash, entry.sealed) == (told, text)
    assert Entry(**entry.as_json()).sealed is None
