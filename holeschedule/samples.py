"""Where the demo drawings lie: inside an installed package, or beside a checkout of it."""

from __future__ import annotations

from pathlib import Path

from holeschedule.errors import DrawingError

_HERE = Path(__file__).resolve().parent


def sample_folder() -> Path:
    """The folder of the demo drawings.

    Raises
    ------
    DrawingError
        The installation is incomplete.
    """
    for folder in (_HERE / "sample_dxf", _HERE.parent / "sample_dxf"):
        if any(folder.glob("*.dxf")):
            return folder
    raise DrawingError("the demo drawings are missing from this installation. Install it again.")


def sample_drawings() -> list[Path]:
    """The demo drawings, by name."""
    return sorted(sample_folder().glob("*.dxf"))
