"""``python -m weighd`` is ``weighd``."""

from weighd.cli.app import main

if __name__ == "__main__":
    main()
