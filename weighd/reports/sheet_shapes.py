"""The silhouettes of verdicts on paper: those of the page, told from each other without colour."""

from __future__ import annotations

_PATHS = {
    "good": "M24 2a22 22 0 1 0 0 44 22 22 0 0 0 0-44zm-4.5 32.5L10 25l4-4 5.500 5.500L34 12l4 4z",
    "short": "M3 10h42v14a21 21 0 0 1-42 0zm5 5v9h32v-9z",
    "over": "M24 1l11.500 20h-23zM2 25h44v5H2zM10.300 34h27.400L46 47H2z",
    "close": "M24 1l23 23-23 23L1 24zm0 7.500v31L39.500 24z",
    "warn": "M24 2l23 42H1zm-3 14l1 16h4l1-16zm0 19v5h6v-5z",
    "fail": "M11 3l13 13L37 3l8 8-13 13 13 13-8 8-13-13-13 13-8-8 13-13L3 11z",
    "none": "M24 4a20 20 0 1 0 0 40 20 20 0 0 0 0-40zm0 5a15 15 0 1 1 0 30 15 15 0 0 1 0-30z",
}

#: As SVG, by the name that the sheet's data has.
SHAPES = {
    name: '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 48 48">'
    f'<path fill-rule="evenodd" d="{path}"/></svg>'
    for name, path in _PATHS.items()
}
