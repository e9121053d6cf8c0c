"""Reaching a station that runs, over its REST interface."""

from __future__ import annotations

import getpass
import json
import os
import sys
import urllib.error
import urllib.request
import uuid
from collections.abc import Mapping
from http.client import HTTPException
from pathlib import Path
from typing import Any
from urllib.parse import quote

from weighd.domain.errors import OperatorError

ANSWER_S = 15.0


class _NeedsRightError(OperatorError):
    """What was asked for needs a right; ``who_may`` have it."""

    right = ""
    who_may: tuple[str, ...] = ()


class Reached:
    """A station at an address. Every call raises :class:`OperatorError`: what the station refuses
    with the station's own code, ``no-station`` where none answers, ``slow-station`` where one is
    there and does not."""

    def __init__(self, address: str) -> None:
        self.address = address.rstrip("/")
        if not self.address.startswith(("http://", "https://")):
            raise OperatorError(
                "bad-address",
                "This is not the address of a station.",
                where=address,
                remedy="Give it as weighd serve prints it, like http://127.0.0.1:8451/.",
            )

    def get(self, *path: str) -> Any:
        """A document. A part of the path may hold any characters."""
        return self._ask(self._request(path))

    def post(self, *path: str, **body: Any) -> Any:
        """A command, with a key of its own. Where it needs a right, a PIN is asked for."""
        try:
            return self._post(path, body)
        except _NeedsRightError as error:
            token = self._lent(error, str(body.get("by") or ""))
            return self._post(path, body, token)

    def _post(self, path: tuple[str, ...], body: Mapping[str, Any], lent: str = "") -> Any:
        request = self._request(path)
        request.data = json.dumps(body).encode()
        request.add_header("Content-Type", "application/json")
        request.add_header("Idempotency-Key", str(uuid.uuid4()))
        if lent:
            request.add_header("Weighd-Lent", lent)
        return self._ask(request)

    def _lent(self, error: _NeedsRightError, by: str) -> str:
        """A token for one act, of whoever acts or else of somebody who may, by their PIN."""
        name = next((one for one in error.who_may if one.casefold() == by.casefold()), "")
        there = sys.stdin.isatty()
        if not name and there:
            name = input(f'This needs the right "{error.right}". Who allows it? ').strip()
        if not name:
            raise error
        pin = getpass.getpass(f"PIN of {name}: ") if there else sys.stdin.readline().strip()
        allowed = self._post(("allow",), {"name": name, "pin": pin, "right": error.right})
        return str(allowed["token"])

    def _request(self, path: tuple[str, ...]) -> urllib.request.Request:
        where = "/".join(quote(one, safe="?=&") for one in ("api", *path))
        # The scheme was looked at above.
        return urllib.request.Request(f"{self.address}/{where}")  # noqa: S310

    def _ask(self, request: urllib.request.Request) -> Any:
        try:
            with urllib.request.urlopen(request, timeout=ANSWER_S) as answer:  # noqa: S310
                return json.load(answer)
        except urllib.error.HTTPError as error:
            raise _refused(error) from error
        except (OSError, HTTPException, ValueError) as error:
            if isinstance(getattr(error, "reason", error), TimeoutError):
                raise OperatorError(
                    "slow-station",
                    f"The station did not answer within {ANSWER_S:g} s.",
                    where=self.address,
                    remedy="It may still do what it was asked: look before you ask again.",
                ) from error
            raise OperatorError(
                "no-station",
                "No station answers there.",
                where=self.address,
                remedy="Start it with weighd serve, or say where it is with --url.",
            ) from error


def station_at(url: str, config: Path | None) -> Reached:
    """The station at an address, or the configured one."""
    if url:
        return Reached(url)
    from weighd.cli.serve import url as address
    from weighd.config import load

    http = load(config).http
    return Reached(address(http.host, http.port))


def acting(by: str) -> str:
    """Who does it: the name that was given, else that of the user."""
    return by or os.environ.get("USER") or os.environ.get("USERNAME") or ""


def _refused(error: urllib.error.HTTPError) -> OperatorError:
    try:
        told = json.load(error)
        kind = _NeedsRightError if told["code"] == "needs-right" else OperatorError
        made = kind(told["code"], told["detail"], where=told["where"], remedy=told["remedy"])
        if isinstance(made, _NeedsRightError):
            made.right, made.who_may = str(told["right"]), tuple(map(str, told["who_may"]))
        return made
    except (ValueError, KeyError, TypeError):
        return OperatorError(
            "no-station", f"What answers there is no station ({error.code}).", where=str(error.url)
        )
