"""A tour of every screen, by the demonstration of an invented kitchen."""
