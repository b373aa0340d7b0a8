"""Imports follow the data: a module imports only from stages before its own."""

import ast
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parent.parent / "holeschedule"

STAGES = (
    ("errors",),
    ("data",),
    ("units",),
    ("model", "operations"),
    ("tables",),
    ("fastener_tables",),
    ("selection",),
    ("build",),
    ("geometry",),
    ("drawing",),
    ("holes",),
    ("audit",),
    ("joints",),
    ("record",),
    ("views",),
    ("samples", "options"),
    ("work",),
    ("cli_common",),
    ("cli_marks", "cli_build", "cli_audit", "cli_checklist", "cli_joints"),
    ("cli_pictures",),
    ("cli_demo",),
    ("cli",),
    ("__main__",),
)
"""Packages and modules from left to right; `__init__` of the whole imports nothing."""

PLACE = {name: place for place, names in enumerate(STAGES) for name in names}


def imports_of(path):
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom) and node.module:
            yield from ([node.module] if node.level == 0 else [])
        elif isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)


def stage_of(module):
    parts = module.split(".")
    return parts[1] if len(parts) > 1 else "__init__"


MODULES = sorted(PACKAGE.rglob("*.py"))


@pytest.mark.parametrize("path", MODULES, ids=lambda p: str(p.relative_to(PACKAGE)))
def test_a_module_imports_only_from_stages_before_its_own(path):
    own = path.relative_to(PACKAGE).with_suffix("").parts[0]
    for module in imports_of(path):
        if module.split(".")[0] != "holeschedule":
            continue
        other = stage_of(module)
        if own == "__init__" or other == "__init__":
            assert other == "__init__", f"{path.name} imports {module}"
            continue
        assert PLACE[other] <= PLACE[own], f"{own} must not import {module}"


def parts_of(path):
    return path.relative_to(PACKAGE).with_suffix("").parts


def graph():
    names = {".".join(("holeschedule", *parts_of(p))): p for p in MODULES}
    return {
        name: {other for other in imports_of(path) if other in names}
        for name, path in names.items()
    }


def test_no_modules_import_each_other_in_a_circle():
    edges = graph()
    done, open_ = set(), []

    def visit(name):
        assert name not in open_, f"a circle: {' → '.join([*open_, name])}"
        if name in done:
            return
        open_.append(name)
        for other in sorted(edges[name]):
            visit(other)
        open_.pop()
        done.add(name)

    for name in sorted(edges):
        visit(name)


def test_modules_and_functions_stay_short():
    for path in MODULES:
        text = path.read_text(encoding="utf-8")
        assert text.count("\n") <= 500, f"{path.name} is too long to read at one sitting"
        for node in ast.walk(ast.parse(text)):
            if isinstance(node, ast.FunctionDef) and node.end_lineno:
                doc = ast.get_docstring(node, clean=False) or ""
                body = node.end_lineno - node.lineno - doc.count("\n")
                assert body <= 60, f"{path.name}: {node.name} has {body} lines"
