"""What tests of the kitchen's files over REST share."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import httpx

from tests.http.kitchen import Kitchen


def everything(folder: Path) -> dict[str, bytes]:
    return {str(one): one.read_bytes() for one in folder.parent.rglob("*") if one.is_file()}


async def send(
    kitchen: Kitchen, method: str, path: str, body: Any = None, tag: str | None = None
) -> httpx.Response:
    headers = {} if tag is None else {"If-Match": f'"{tag}"'}
    return await kitchen.client.request(method, path, json=body, headers=headers)


def problem(answer: httpx.Response) -> tuple[int, str, str]:
    body = answer.json()
    assert answer.headers["content-type"] == "application/problem+json"
    assert body["detail"]
    return answer.status_code, body["code"], body["where"]
