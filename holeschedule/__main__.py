"""The way in: `holeschedule …` and `python -m holeschedule …`."""

from __future__ import annotations

import sys


def main() -> None:
    """Run the command line and end with its exit status."""
    from holeschedule.cli import run  # noqa: PLC0415 - nothing is imported before it is needed

    sys.exit(run(sys.argv[1:]))


if __name__ == "__main__":
    main()
