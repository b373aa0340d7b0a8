"""The way in: `holeschedule …` and `python -m holeschedule …`."""

from __future__ import annotations

import gc
import os
import sys
from contextlib import suppress


def main() -> None:
    """Run the command line and end with its exit status."""
    # A command makes hundreds of thousands of objects, hardly any of them in circles, and is over
    # in a moment: looking for circles of rubbish costs it a tenth of its time and more.
    gc.disable()
    from holeschedule.cli import run  # noqa: PLC0415 - nothing is imported before it is needed

    status = run(sys.argv[1:])
    for stream in (sys.stdout, sys.stderr):  # None where there was none from the start
        with suppress(OSError, ValueError):  # one that is closed was told of by the command
            if stream is not None:
                stream.flush()
    # everything is written and closed: the system frees the memory at once, object by object it
    # takes a tenth of the command's time
    os._exit(status)


if __name__ == "__main__":
    main()
