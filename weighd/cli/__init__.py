"""The command line of weighd; ``app`` puts it together."""
