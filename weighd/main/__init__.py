"""The composition root: the only package that knows every concrete class.

The command line calls what stands here; everything below takes what it needs as arguments. What
a command does not use is not imported.
"""
