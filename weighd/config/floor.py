"""``[floor]``: the broker on which stations tell what they do now."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Annotated

from pydantic import BeforeValidator, Field, StringConstraints

from weighd.config.values import File, Section
from weighd.station.floor_broker import Broker, read_address


def _address(value: object) -> str:
    if not isinstance(value, str):
        raise ValueError("must be text in quotes")  # noqa: TRY004 -- pydantic gathers these
    if value:
        read_address(value)
    return value


class FloorSection(Section):
    broker: Annotated[str, BeforeValidator(_address)] = Field(
        default="",
        description="Address of an MQTT 5 broker, mqtt://HOST:PORT, or mqtts:// for TLS; without "
        "one nothing is told to a floor.",
    )
    topic: Annotated[
        str,
        StringConstraints(pattern=r"^[A-Za-z0-9._-]+(/[A-Za-z0-9._-]+)*$", max_length=80),
    ] = Field(
        default="weighd",
        description="What stands at the top of every topic: another one for another floor on the "
        "same broker.",
    )
    user: Annotated[str, StringConstraints(max_length=200)] = Field(
        default="", description="User that the broker knows this station by."
    )
    password_file: File | None = Field(
        default=None,
        description="File whose first line is the password; read at each connection.",
    )
    ca_file: File | None = Field(
        default=None,
        description="Certificates to trust with mqtts://, instead of those of the system.",
    )
    names: bool = Field(default=False, description="Whether operators' names are said.")
    publish: bool = Field(default=True, description="Whether this station says what it does.")
    watch: bool = Field(default=True, description="Whether its page shows all stations.")

    def as_broker(self, place: Callable[[Path], Path]) -> Broker | None:
        """Where the broker is; ``None`` where there is none. ``place`` finds a relative file."""
        if not self.broker:
            return None
        host, port, tls = read_address(self.broker)
        files = (self.password_file, self.ca_file)
        password, ca = ("" if one is None else str(place(one)) for one in files)
        return Broker(host, port, tls, self.topic, self.user, password, ca)


def quarrels(floor: FloorSection) -> Iterator[tuple[str, str]]:
    """Keys that do not go together: the one to blame, and why."""
    if floor.password_file is not None and not floor.user:
        yield "password_file", "belongs to a user, who is not named; give floor.user"
    if floor.ca_file is not None and floor.broker and not floor.broker.startswith("mqtts://"):
        yield "ca_file", "is for TLS; write the address of the broker with mqtts://"
    if floor.broker and not (floor.publish or floor.watch):
        yield "broker", "is of no use with neither publish nor watch"
