"""Holes of riveted aluminium structures: found in drawings, checked, recorded, printed.

The library, in the order of the work::

    from pathlib import Path
    from holeschedule.audit.report import audit_part
    from holeschedule.audit.rules import load_rule_set
    from holeschedule.holes.parts import read_parts

    for part in read_parts(Path("fl-101.dxf")):
        audit = audit_part(part, load_rule_set("faa"))

Lengths are inches. Importing this package opens and computes nothing.
"""

__version__ = "0.1.0"
