"""What a view is: one screen in one state."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum


class Window(Enum):
    """A window's width and height in CSS pixels."""

    PHONE = (390, 844)
    TABLET = (1024, 768)
    WALL = (1920, 1080)


PHONE, TABLET, WALL = Window.PHONE, Window.TABLET, Window.WALL

#: What is done once the screen stands: ("press", selector), ("fill", selector, text),
#: ("choose", selector, value), ("key", key), ("show", selector) to scroll to it.
Deed = tuple[str, ...]


@dataclass(frozen=True)
class View:
    """One screen in one state."""

    name: str
    #: As ``web/src/core/routes.ts`` has it.
    screen: str
    #: What can be seen, in a sentence.
    says: str
    #: A selector of what is there when it stands.
    ready: str
    #: Its address; ``{name}`` stands for what the tour met.
    at: str = "#/"
    do: tuple[Deed, ...] = ()
    #: Told by ``fixtures/frames`` where the demonstration does not come to it by itself.
    frame: str = ""
    #: The station has gone silent.
    lost: bool = False
    #: How its picture in ``docs`` is taken.
    window: Window = TABLET
    dark: bool = False


@dataclass(frozen=True)
class Group:
    """Views under one heading."""

    title: str
    views: tuple[View, ...]
