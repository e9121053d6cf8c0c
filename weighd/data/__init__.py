"""Data that ships with weighd: the formulas of an invented kitchen."""
