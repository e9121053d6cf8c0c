"""Which mutants change nothing but words that people read."""

from __future__ import annotations

import re
from typing import Any

import libcst as cst
from mutmut.mutation.file_mutation import Mutation

#: A sentence, or a piece of one: it begins with a capital after which words follow, or ends as one
#: does, or has four words (names of kinds of entries have three at most).
SENTENCE = re.compile(r"^[A-Z\"“].* .*|.* .*[.:,;?!]$|^ .*|.* $|\S+ \S+ \S+ \S+.*", re.DOTALL)


def sentence(node: Any) -> bool:
    """Whether a literal is read by people. Names of kinds, fields and codes are not; neither is a
    text with values in it, since it carries data."""
    if isinstance(node, cst.ConcatenatedString):
        return sentence(node.left) and sentence(node.right)
    if not isinstance(node, cst.SimpleString):
        return False
    text = node.evaluated_value
    return isinstance(text, str) and " " in text.strip() and bool(SENTENCE.match(text))


def worded(mutation: Mutation) -> bool:
    """Whether nothing but a sentence changes: its letters, or it is left out of a call."""
    was, now = mutation.original_node, mutation.mutated_node
    if isinstance(was, cst.SimpleString):
        return sentence(was)
    if isinstance(was, cst.Call) and isinstance(now, cst.Call):
        kept = {id(one) for one in now.args}
        gone = [one for one in was.args if id(one) not in kept]
        return len(gone) == 1 and sentence(gone[0].value)
    return False
