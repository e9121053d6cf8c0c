"""What the variables of the environment do; a test names the ones that are missing here."""

from __future__ import annotations

from collections.abc import Mapping

ENVIRONMENT: Mapping[str, str] = {
    "XDG_CONFIG_HOME": "Folder that is looked into for `weighd/weighd.toml`, after the working "
    "folder and before `/etc/weighd`; `~/.config` where it is not set.",
    "HOME": "The user's folder: where `~` is, and where `.config` is looked for.",
    "USER": "Who is at a command that asks who did something, where no `--by` is given.",
    "USERNAME": "The same where `USER` is not set.",
    "NOTIFY_SOCKET": "Set by a service manager: where it is told that the station is ready, how it "
    "stands, and that it goes on.",
    "WATCHDOG_USEC": "Set by a service manager: it starts the station anew where it is not told "
    "for so many microseconds that it goes on.",
    "WATCHDOG_PID": "Set by a service manager: the process that is meant by it.",
    "LISTEN_FDS": "Set by a service manager that opens the address itself: how many it hands over.",
    "LISTEN_PID": "The process that they are for.",
    "LISTEN_FDNAMES": "What each of them is called.",
    "PGPASSFILE": "A file of passwords for the shared store, as PostgreSQL's own programs read it; "
    "`shared.password_file` counts before it.",
}
