"""Scales, each a source of timed bytes and a decoder for them. Found through ``weighd.drivers``."""
