"""Whole processes, timed and weighed in turn, so that both sides meet the same machine."""

import compileall
import resource
import statistics
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

import holeschedule

_WEIGH = """
import os, sys
quiet = [(os.POSIX_SPAWN_OPEN, 1, os.devnull, os.O_WRONLY, 0)]
line = [sys.executable, *sys.argv[1:]]
pid = os.posix_spawn(sys.executable, line, os.environ, file_actions=quiet)
print(os.wait4(pid, 0)[2].ru_maxrss, file=sys.stderr)
"""
"""Weighs a process from one that is small itself: the peak is inherited by what it starts."""


@dataclass(frozen=True)
class Command:
    """Arguments for the Python that runs the benchmark."""

    name: str
    arguments: tuple[str, ...]


def compile_package():
    """Byte code for the package, as pip writes it on installing; a checkout may have none."""
    compileall.compile_dir(Path(holeschedule.__file__).parent, quiet=1)


def once(command):
    """Seconds of processor time of one run; the exit status 1 (findings) is a success.

    Every command here is one thread that waits for nothing, so processor time is what a user waits,
    without what other programs on the machine add to it.
    """
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    done = subprocess.run([sys.executable, *command.arguments], capture_output=True, check=False)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    if done.returncode not in (0, 1):
        raise RuntimeError(f"{command.name}: {done.stderr.decode()}")
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def time_ratio(ours, base, repeats=9):
    """(median of ours, of base, of their ratios): the two run in turn, `repeats` times."""
    once(ours), once(base)  # files and byte code into the caches
    pairs = [(once(ours), once(base)) for _ in range(repeats)]
    return (
        statistics.median(a for a, _ in pairs),
        statistics.median(b for _, b in pairs),
        statistics.median(a / b for a, b in pairs),
    )


def peak_memory(command):
    """Peak resident memory [MB] of one run of a command."""
    done = subprocess.run(
        [sys.executable, "-c", _WEIGH, *command.arguments], capture_output=True, check=True
    )
    return int(done.stderr.splitlines()[-1]) / 1024


def table(title, heads, rows):
    """A Markdown table with its title."""
    lines = [f"### {title}", "", "| " + " | ".join(heads) + " |"]
    lines.append("|" + "|".join("---" if i == 0 else "--:" for i in range(len(heads))) + "|")
    lines += ["| " + " | ".join(row) + " |" for row in rows]
    return "\n".join([*lines, ""])
