"""One file a revision, named by its number; its ``down_revision`` is the one before."""
