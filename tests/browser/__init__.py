"""The page in Chromium: a package, so that one browser serves all of it."""
