"""What the variables of the environment do; a test names the ones that are missing here."""

from __future__ import annotations

from collections.abc import Mapping

ENVIRONMENT: Mapping[str, str] = {
    "XDG_CONFIG_HOME": "Folder that is looked into for `weighd/weighd.toml`, after the working "
    "folder and before `/etc/weighd`; `~/.config` where it is not set.",
    "HOME": "The user's folder: where `~` is, and where `.config` is looked for.",
    "USER": "Who is at a command that asks who did something, where no `--by` is given.",
    "USERNAME": "The same where `USER` is not set.",
    "PGPASSFILE": "A file of passwords for the shared store, as PostgreSQL's own programs read it; "
    "`shared.password_file` counts before it.",
}
