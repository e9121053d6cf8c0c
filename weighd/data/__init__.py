"""Data that ships: formulas of an invented kitchen, compositions, limits of classes,
heat treatments."""
