"""What the reference pages hold, drawn from the code when the site is built.

A page says where with a line ``<!-- made: NAME -->``; ``pages`` knows every name.
"""
