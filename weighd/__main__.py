"""``python -m weighd`` is ``weighd``."""

from weighd.cli import main

if __name__ == "__main__":
    main()
