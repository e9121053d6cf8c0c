"""Who can reach a station, and by what: its second door, the certificate, who is listed."""

from __future__ import annotations

from collections.abc import Iterator

from weighd.clock import SystemClock
from weighd.config import Config
from weighd.domain.errors import WeighdError
from weighd.main.doctor_finding import Finding, Level, of_error
from weighd.main.listening_at import listen
from weighd.main.second_door import certificate_of, settings_of


def door(config: Config, *, running: bool) -> Iterator[Finding]:
    """How the second door stands. ``running``: the station that runs holds its port."""
    it = config.elsewhere
    if not it.open:
        yield Finding("elsewhere", Level.OK, "Only this computer can reach the page.")
        return
    where = ", ".join(it.addresses(it.port))
    if it.plain:
        yield Finding(
            "elsewhere",
            Level.WARN,
            "Other devices come in without TLS: whoever is on that network can read all of it.",
            "Give certificate and key, or put a proxy with them in front; see the documentation.",
            where,
        )
    else:
        yield Finding("elsewhere", Level.OK, "Other devices can be let in.", where=where)
    try:
        settings_of(config)
        if not running and it.port:
            listen(it.host, it.port).close()
        certificate = certificate_of(config)
    except WeighdError as error:
        yield of_error("elsewhere", error)
        return
    if certificate is None:
        return
    wrong = tuple(certificate.doubts(SystemClock().utc()))
    for one in wrong:
        ended = "ended" in one
        yield Finding(
            "certificate",
            Level.BAD if ended else Level.WARN,
            f"{one[:1].upper()}{one[1:]}.",
            "Have it renewed: a station that runs takes the new one by itself.",
            str(it.certificate),
        )
    if not wrong:
        yield Finding("certificate", Level.OK, "It can be used.", where=str(it.certificate))


def who(config: Config, *, listed: bool) -> Iterator[Finding]:
    """Whether whoever is at a device may do everything."""
    if config.elsewhere.open and not listed:
        yield Finding(
            "people",
            Level.WARN,
            "Other devices can be let in, and nobody is listed: whoever is at one that works may "
            "weigh, change formulas and abandon batches.",
            "List who works here: weighd people, or People on the page.",
        )
