"""``python -m weighd.mqtt.schema`` prints the schema of payloads as the file that ships."""

from __future__ import annotations

from weighd.station.floor_schema import schema_text

if __name__ == "__main__":
    print(schema_text(), end="")  # noqa: T201 -- this is how the file is made
