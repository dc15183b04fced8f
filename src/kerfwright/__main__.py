"""``python -m kerfwright``."""

from kerfwright.cli import main

main()
