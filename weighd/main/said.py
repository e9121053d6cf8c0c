"""What the command line says instead of the configuration."""

from __future__ import annotations

from pathlib import Path

from weighd.config import Config, is_loopback, not_at_home
from weighd.domain.errors import ConfigError


def with_port(config: Config, host: str | None, port: int | None, data: Path | None) -> Config:
    """The configuration with what the command line says instead. Raises ConfigError."""
    http = config.http
    if host is not None:
        if not is_loopback(host):
            raise ConfigError(
                "remote-refused",
                not_at_home(host) + ".",
                where="--host",
                remedy="Leave out --host, and see the documentation: Reach it from elsewhere.",
            )
        http = http.model_copy(update={"host": host})
    if port is not None:
        http = http.model_copy(update={"port": port})
    station = config.station
    if data is not None:
        station = station.model_copy(update={"data": data.absolute()})
    return config.model_copy(update={"http": http, "station": station})
