"""Whole stations that run from one seed: cooks, scales, faults and crashes in virtual time.

All chance comes from the seed, and nothing here reads a clock, starts a thread or opens a socket.
"""
