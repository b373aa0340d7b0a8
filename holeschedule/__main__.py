"""The way in: `holeschedule …` and `python -m holeschedule …`."""

from __future__ import annotations

import gc
import sys


def main() -> None:
    """Run the command line and end with its exit status."""
    # A command makes hundreds of thousands of objects, hardly any of them in circles, and is over
    # in a moment: looking for circles of rubbish costs it a tenth of its time and more.
    gc.disable()
    from holeschedule.cli import run  # noqa: PLC0415 - nothing is imported before it is needed

    sys.exit(run(sys.argv[1:]))


if __name__ == "__main__":
    main()
