"""The page on fitting shows what its blocks print."""

import contextlib
import io
import re
from pathlib import Path

PAGE = Path(__file__).parents[2] / "docs" / "fitting.md"


def test_the_page_on_fitting_shows_what_its_python_prints():
    text = PAGE.read_text(encoding="utf-8")
    shown = re.findall(r"^```text\n(.*?)^```$", text, re.MULTILINE | re.DOTALL)
    names: dict[str, object] = {}
    for block, expected in zip(
        re.findall(r"^```python\n(.*?)^```$", text, re.MULTILINE | re.DOTALL), shown, strict=True
    ):
        out = io.StringIO()
        with contextlib.redirect_stdout(out):
            exec(compile(block, PAGE.name, "exec"), names)  # noqa: S102 - our own page
        assert out.getvalue() == expected
