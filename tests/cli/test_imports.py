"""What each command loads: little, so that it starts at once."""

import json
import subprocess
import sys

import pytest

from tests.cli.commands import SAMPLES

HEAVY = ("numpy", "shapely", "ezdxf", "pandas", "openpyxl", "tomlkit", "scipy", "klayout")
NEVER_FOR_AUDIT = ("pandas", "openpyxl", "tomlkit", "scipy", "klayout", "sqlite3")
AFTER = """
import json, sys
{statement}
print("\\n" + json.dumps(sorted(name for name in {names} if name in sys.modules)))
"""


def loaded_after(statement, names):
    code = AFTER.format(statement=statement, names=names)
    ran = subprocess.run(
        [sys.executable, "-c", code], check=True, capture_output=True, text=True, encoding="utf-8"
    )
    return json.loads(ran.stdout.splitlines()[-1])


def run(*arguments):
    return f"from holeschedule.cli import run; run({list(map(str, arguments))!r})"


def test_the_check_sees_what_is_loaded():
    assert loaded_after("import numpy", HEAVY) == ["numpy"]


@pytest.mark.parametrize(
    "arguments", [[], ["--help"], ["--version"], ["audit", "--help"], ["demo", "--help"], ["aduit"]]
)
def test_help_and_version_load_nothing_heavy(arguments):
    assert loaded_after(run(*arguments), HEAVY) == []


def test_importing_the_package_loads_nothing_heavy():
    assert loaded_after("import holeschedule", (*HEAVY, "click")) == []


def test_an_audit_loads_what_it_needs_and_nothing_for_workbooks_and_records():
    audit = run("audit", SAMPLES / "fl-101.dxf")
    assert loaded_after(audit, NEVER_FOR_AUDIT) == []
    assert loaded_after(audit, ("numpy", "ezdxf")) == ["ezdxf", "numpy"]


OPENED = """
import sys
import holeschedule  # compiled and cached by now
for name in [n for n in sys.modules if n.startswith("holeschedule")]:
    del sys.modules[name]
opened = []
sys.addaudithook(lambda event, args: opened.append(str(args[0])) if event == "open" else None)
import holeschedule
print([name for name in opened if not name.endswith((".py", ".pyc"))])
"""


def test_importing_the_package_opens_no_file_of_its_own():
    ran = subprocess.run([sys.executable, "-c", OPENED], check=True, capture_output=True, text=True)
    assert ran.stdout.strip() == "[]"
