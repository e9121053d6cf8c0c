"""What is shown of a record once a kitchen closes: exports alone, and the day replayed."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Sequence
from itertools import islice

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from tests.simulation.broken import Broken, hold
from tests.simulation.house import NAME, House
from tests.simulation.rules import difference
from weighd.domain.errors import RecordError, SessionError
from weighd.domain.kinds import ENDS
from weighd.domain.record import Entry
from weighd.domain.signing import Signature, signed
from weighd.domain.verify import export, verify_export
from weighd.main.drivers import reread, session_decoder
from weighd.station import check_history
from weighd.station.replay import replay
from weighd.station.session import read
from weighd.storage.keys import StationKey, made


def key_of(seed: int) -> StationKey:
    """A station's key that follows from its seed."""
    secret = hashlib.sha256(b"simulated %d" % seed).digest()
    return StationKey(Ed25519PrivateKey.from_private_bytes(secret))


def shown_alone(house: House, batch: str, given: Sequence[Signature]) -> None:
    """Rule 4: a batch that is over is verified from its export, read back as a file has it."""
    entries = house.journal.batch(batch)
    checks = check_history.of_batch(house.journal, entries)
    key = key_of(house.setting.seed)
    ends = next(n for n, one in enumerate(entries) if one.kind in ENDS)
    signatures = list(given) or [signed(key, one) for one in entries[ends:]]
    document = json.loads(json.dumps(export(NAME, batch, entries, checks, signatures)))
    try:
        report = verify_export(document, reread, made, [key.key])
    except RecordError as error:
        raise Broken("a batch is shown alone", f"{batch}: {error.code} {error}") from error
    hold(report.signed.get(key.key) == 1, "a batch is shown alone", f"{batch} is signed")


def replays(house: House, written: Sequence[Entry], *, torn: bool) -> None:
    """The recorded life, taken in again, makes the same entries byte for byte.

    ``torn``  its last line was cut short: what stands before it is read all the same.
    """
    lines = list(house.lines)
    if torn and len(lines) > 1:
        lines[-1] = lines[-1][: len(lines[-1]) // 2]
    header, inputs = read(lines)
    found: list[Entry] = []
    try:
        found = replay(header, inputs, session_decoder, lambda formula: formula)
    except SessionError as error:
        hold(torn and f"line {len(lines)}" in str(error), "a recording is read", error)
        return
    for there, again in zip(written, islice(found, len(written)), strict=False):
        if there != again:
            raise Broken("a recording replays", difference(there.as_json(), again.as_json()))
    hold(
        len(found) == len(written),
        "a recording replays",
        f"{len(found)} entries, where {len(written)} were written",
    )
