"""Every check in one command: lint, format, strict types, tests. `python -m tests` runs them all.

Arguments go to pytest: `python -m tests -m slow`.
"""

import subprocess
import sys

STEPS = (
    ("ruff", "check", "."),
    ("ruff", "format", "--check", "."),
    ("mypy",),
    # commands that the tests start in processes of their own begin at once
    ("compileall", "-q", "holeschedule"),
    ("pytest", "-n", "auto", "--dist", "worksteal", "-q", *sys.argv[1:]),
)


def main() -> int:
    for step in STEPS:
        print("$", *step, flush=True)
        done = subprocess.run([sys.executable, "-m", *step], check=False)
        if done.returncode:
            return done.returncode
    return 0


if __name__ == "__main__":
    sys.exit(main())
