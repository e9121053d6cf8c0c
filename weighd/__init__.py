"""weighd: a weighing station for anything made from a formula in grams."""

__version__ = "0.1.0"
