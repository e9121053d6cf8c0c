"""Idempotency keys: a command sent twice acts once, and one key is for one command.

The station keeps the answer to a key; here we see to it that there is one, and that it is not
used for something else: silently answering "done" to a new command would be the worst of answers.
"""

from __future__ import annotations

import hashlib
import json
import re
from collections import OrderedDict
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from typing import Any

from weighd.domain.errors import OperatorError, WeighdError

#: Printable ASCII without quotes: an RFC 8941 string's content, or a bare token.
_KEY = re.compile(r"[!#-\[\]-~ ]{1,128}")
KEYS_KEPT = 2048


def one_key(header: str | None, body: str | None) -> str:
    """The key of a command, from its ``Idempotency-Key`` header or its body.

    Raises :class:`OperatorError` when there is none, when they differ, or for an unusable one.
    """
    given = {_bare(one) for one in (header, body) if one is not None}
    if not given:
        raise OperatorError(
            "no-key",
            "The command has no idempotency key, so that sent twice it would act twice.",
            remedy="Send a new random value in the header Idempotency-Key with each command.",
        )
    if len(given) > 1:
        raise OperatorError(
            "keys-differ",
            "The header Idempotency-Key and the key in the body are not the same.",
            remedy="Send one of them.",
        )
    key = given.pop()
    if not _KEY.fullmatch(key):
        raise OperatorError(
            "bad-key",
            "The idempotency key is not 1 to 128 printable ASCII characters.",
            remedy="Use a UUID.",
        )
    return key


def _bare(key: str) -> str:
    """A key may come as a quoted string, as RFC 8941 writes them."""
    key = key.strip()
    quoted = len(key) >= 2 and key[0] == key[-1] == '"'
    return key[1:-1] if quoted else key


def reused(key: str) -> OperatorError:
    """The refusal of a key that stands for another command."""
    return OperatorError(
        "key-reused",
        "This idempotency key was used for another command.",
        where=f"key {key}",
        remedy="Send a new key with each new command.",
    )


class KeyBook:
    """Which command each recent key stands for."""

    def __init__(self) -> None:
        self._seen: OrderedDict[str, str] = OrderedDict()

    @contextmanager
    def entry(self, key: str, what: Mapping[str, Any]) -> Iterator[None]:
        """Hold ``key`` for ``what``; a command that is refused sets its key free again.

        Raises :class:`OperatorError`, ``key-reused``, when the key stands for something else.
        """
        mark = hashlib.sha256(json.dumps(what, sort_keys=True).encode()).hexdigest()
        before = self._seen.get(key)
        if before not in (None, mark):
            raise reused(key)
        self._seen[key] = mark
        while len(self._seen) > KEYS_KEPT:
            self._seen.popitem(last=False)
        try:
            yield
        except WeighdError:
            if before is None:
                self._seen.pop(key, None)
            raise
