"""Merkle trees: published vectors, the definition itself, and proofs that were meddled with."""

from __future__ import annotations

import hashlib
import json
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from weighd.domain.merkle import (
    EMPTY,
    Growing,
    consistency,
    continues,
    includes,
    inclusion,
    leaf,
    root_of,
)

#: Reference vectors for RFC 6962 and RFC 9162, section 2.1; each row names its source.
ROWS = json.loads(
    (Path(__file__).parents[2] / "fixtures" / "tables" / "merkle.json").read_text("utf-8")
)["checks"]
#: The eight contents that the vectors are about.
EIGHT = [bytes.fromhex(it) for it in ROWS[8]["inputs"]["leaves_hex"]]


def rows(start: str) -> list[Any]:
    return [pytest.param(it, id=it["name"]) for it in ROWS if it["name"].startswith(start)]


@pytest.mark.parametrize("row", rows("merkle_root"))
def test_published_roots(row: dict[str, Any]) -> None:
    contents = [bytes.fromhex(it) for it in row["inputs"]["leaves_hex"]]
    assert root_of(contents).hex() == row["expected"]["root"]


@pytest.mark.parametrize("row", rows("merkle_inclusion"))
def test_published_inclusion(row: dict[str, Any]) -> None:
    index = row["inputs"]["leaf_index"]
    path = [bytes.fromhex(it) for it in row["expected"]["path"]]
    leaves = [leaf(it) for it in EIGHT]
    assert inclusion(leaves, index) == path
    root = bytes.fromhex(row["expected"]["root"])
    assert includes(root, 8, index, leaves[index], path)


@pytest.mark.parametrize("row", rows("merkle_consistency"))
def test_published_consistency(row: dict[str, Any]) -> None:
    old, new = row["inputs"]["old"], row["inputs"]["new"]
    proof = [bytes.fromhex(it) for it in row["expected"]["proof"]]
    assert consistency([leaf(it) for it in EIGHT[:new]], old) == proof
    assert continues(root_of(EIGHT[:old]), old, root_of(EIGHT[:new]), new, proof)


def by_definition(contents: list[bytes]) -> bytes:
    """RFC 9162, 2.1.1, word for word."""
    if not contents:
        return hashlib.sha256(b"").digest()
    if len(contents) == 1:
        return hashlib.sha256(b"\x00" + contents[0]).digest()
    cut = 1
    while cut * 2 < len(contents):
        cut *= 2
    both = by_definition(contents[:cut]) + by_definition(contents[cut:])
    return hashlib.sha256(b"\x01" + both).digest()


contents = st.lists(st.binary(max_size=6), min_size=1, max_size=70)


@given(contents)
def test_the_root_is_the_definition_s(them: list[bytes]) -> None:
    tree = Growing()
    assert tree.root == EMPTY
    for n, one in enumerate(them, start=1):
        tree.add(one)
        assert tree.root == by_definition(them[:n])


@given(contents, st.data())
def test_an_inclusion_holds_and_nothing_else_does(them: list[bytes], data: st.DataObject) -> None:
    leaves, root = [leaf(it) for it in them], root_of(them)
    index = data.draw(st.integers(0, len(them) - 1))
    proof = inclusion(leaves, index)
    assert includes(root, len(them), index, leaves[index], proof)
    assert not includes(root, len(them), index, leaf(b"another"), proof)
    assert not includes(root, len(them), index, leaves[index], [*proof, EMPTY])
    assert not includes(EMPTY, len(them), index, leaves[index], proof)
    for size in (0, index):
        assert not includes(root, size, index, leaves[index], proof)
    if proof:
        n = data.draw(st.integers(0, len(proof) - 1))
        damaged = [*proof[:n], bytes([proof[n][0] ^ 1]) + proof[n][1:], *proof[n + 1 :]]
        assert not includes(root, len(them), index, leaves[index], damaged)
        assert not includes(root, len(them), index, leaves[index], proof[:-1])


@given(contents, st.data())
def test_a_later_head_continues_an_earlier_one_and_no_other(
    them: list[bytes], data: st.DataObject
) -> None:
    old = data.draw(st.integers(1, len(them)))
    leaves, new = [leaf(it) for it in them], len(them)
    proof = consistency(leaves, old)
    was, root = root_of(them[:old]), root_of(them)
    assert continues(was, old, root, new, proof)
    # Another history: an early entry that is not as it was.
    n = data.draw(st.integers(0, old - 1))
    rewritten = [*them[:n], them[n] + b"!", *them[n + 1 :]]
    forged = consistency([leaf(it) for it in rewritten], old)
    assert not continues(was, old, root_of(rewritten), new, forged)
    assert not continues(was, old, EMPTY, new, proof)
    assert not continues(was, old, root, new, [*proof, EMPTY])
    if proof:
        assert not continues(was, old, root, new, proof[:-1])


def test_what_is_not_there_cannot_be_shown() -> None:
    leaves = [leaf(it) for it in EIGHT]
    for index in (-1, 8):
        with pytest.raises(IndexError):
            inclusion(leaves, index)
    for old in (0, 9):
        with pytest.raises(IndexError):
            consistency(leaves, old)
        assert not continues(EMPTY, old, root_of(EIGHT), 8, [])


def test_every_small_history_continues_and_none_shortened_or_lengthened_does() -> None:
    """Every pair of sizes up to 20, so that every shape of a proof is in it."""
    them = [bytes([n]) for n in range(20)]
    leaves, roots = [leaf(it) for it in them], [by_definition(them[:n]) for n in range(21)]
    for new in range(1, 21):
        for old in range(1, new + 1):
            proof = consistency(leaves[:new], old)
            assert continues(roots[old], old, roots[new], new, proof)
            assert not continues(roots[old], old, roots[new], new, [*proof, EMPTY])
            for n in range(len(proof)):
                assert not continues(roots[old], old, roots[new], new, proof[:n])
            if new > old:
                assert not continues(roots[old], old, roots[old], new, proof)
                assert not continues(roots[new], old, roots[new], new, proof)
        for n in range(new):
            shown = inclusion(leaves[:new], n)
            assert includes(roots[new], new, n, leaves[n], shown)
            for k in range(len(shown)):
                assert not includes(roots[new], new, n, leaves[n], shown[:k])
