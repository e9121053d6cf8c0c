"""The rules of weighing, pure: bytes, commands and times in, events out. No I/O, no clock."""
