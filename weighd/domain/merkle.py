"""Merkle trees over a station's entries: RFC 9162, section 2.1, with SHA-256.

A *head* is the number of entries and one hash over all of them. With it two things can be shown to
somebody who does not get the other entries: that an entry is among them (*inclusion*), and that a
later head only adds to an earlier one (*consistency*). Leaves are prefixed with 0, inner nodes with
1, so that neither can be passed off as the other. All hashes are 32 bytes.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Sequence

#: The head of nothing: the hash of no bytes.
EMPTY = hashlib.sha256(b"").digest()


def leaf(data: bytes) -> bytes:
    """The hash of a leaf with this content."""
    return hashlib.sha256(b"\x00" + data).digest()


def node(left: bytes, right: bytes) -> bytes:
    """The hash of an inner node over two hashes."""
    return hashlib.sha256(b"\x01" + left + right).digest()


class Growing:
    """A tree that leaves are added to, in a few dozen hashes of memory however many there are."""

    def __init__(self) -> None:
        self.size = 0
        #: The roots of the full trees that the leaves so far make, largest first.
        self._full: list[bytes] = []

    def add(self, data: bytes) -> None:
        """Add a leaf with this content."""
        at, size = leaf(data), self.size
        while size & 1:
            at, size = node(self._full.pop(), at), size >> 1
        self._full.append(at)
        self.size += 1

    @property
    def root(self) -> bytes:
        """The hash over all leaves so far."""
        if not self._full:
            return EMPTY
        at = self._full[-1]
        for left in reversed(self._full[:-1]):
            at = node(left, at)
        return at


def root_of(contents: Iterable[bytes]) -> bytes:
    """The hash over leaves with these contents."""
    tree = Growing()
    for one in contents:
        tree.add(one)
    return tree.root


def inclusion(leaves: Sequence[bytes], index: int) -> list[bytes]:
    """The proof that leaf ``index`` is in the tree over these leaf *hashes*, lowest first.

    Raises ``IndexError`` where there is no such leaf.
    """
    if not 0 <= index < len(leaves):
        raise IndexError(f"there is no leaf {index} of {len(leaves)}")
    proof, start, end = list[bytes](), 0, len(leaves)
    while end - start > 1:
        cut = start + _half(end - start)
        if index < cut:
            proof.append(_root(leaves, cut, end))
            end = cut
        else:
            proof.append(_root(leaves, start, cut))
            start = cut
    return proof[::-1]


def consistency(leaves: Sequence[bytes], old: int) -> list[bytes]:
    """The proof that the tree over these leaf hashes begins with that over the first ``old``.

    Raises ``IndexError`` where ``old`` is not from 1 to the number of leaves.
    """
    if not 0 < old <= len(leaves):
        raise IndexError(f"there is no earlier tree of {old} among {len(leaves)}")
    proof, start, end, whole = list[bytes](), 0, len(leaves), True
    while old - start != end - start:
        cut = start + _half(end - start)
        if old <= cut:
            proof.append(_root(leaves, cut, end))
            end = cut
        else:
            proof.append(_root(leaves, start, cut))
            start, whole = cut, False
    if not whole:
        proof.append(_root(leaves, start, end))
    return proof[::-1]


def includes(root: bytes, size: int, index: int, at: bytes, proof: Sequence[bytes]) -> bool:
    """Whether a proof shows the leaf hash ``at`` as leaf ``index`` of ``size`` (2.1.3.2)."""
    if not 0 <= index < size:
        return False
    fn, sn = index, size - 1
    for one in proof:
        if sn == 0:
            return False
        if fn & 1 or fn == sn:
            at = node(one, at)
            while not fn & 1 and fn:
                fn, sn = fn >> 1, sn >> 1
        else:
            at = node(at, one)
        fn, sn = fn >> 1, sn >> 1
    return sn == 0 and at == root


def continues(old_root: bytes, old: int, new_root: bytes, new: int, proof: Sequence[bytes]) -> bool:
    """Whether a proof shows that the head of ``new`` only adds to that of ``old`` (2.1.4.2)."""
    if not 0 < old <= new:
        return False
    if old == new:
        return not proof and old_root == new_root
    path = list(proof)
    if old & (old - 1) == 0:
        path.insert(0, old_root)
    if not path:
        return False
    fn, sn = old - 1, new - 1
    while fn & 1:
        fn, sn = fn >> 1, sn >> 1
    first = second = path[0]
    for one in path[1:]:
        if sn == 0:
            return False
        if fn & 1 or fn == sn:
            first, second = node(one, first), node(one, second)
            while not fn & 1 and fn:
                fn, sn = fn >> 1, sn >> 1
        else:
            second = node(second, one)
        fn, sn = fn >> 1, sn >> 1
    return sn == 0 and first == old_root and second == new_root


def _half(size: int) -> int:
    """The largest power of two below ``size``."""
    return 1 << (size - 1).bit_length() - 1


def _root(leaves: Sequence[bytes], start: int, end: int) -> bytes:
    """The root over leaf hashes ``start`` to ``end``, which are not none."""
    level = list(leaves[start:end])
    while len(level) > 1:
        above = [node(*level[n : n + 2]) for n in range(0, len(level) - 1, 2)]
        if len(level) % 2:
            above.append(level[-1])
        level = above
    return level[0]
