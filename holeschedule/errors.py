"""What can go wrong with the user's input, by cause.

Every error is one line that says where, what is wrong and what to do. The command line catches
`HoleScheduleError` once and ends with exit status 2. A rule that is not met is never an error:
it is a `model.Finding`.
"""


class HoleScheduleError(Exception):
    """Base of every error this package raises on purpose."""


class DrawingError(HoleScheduleError, ValueError):
    """A drawing cannot be read, or what it shows cannot be settled without the user."""


class UnitError(DrawingError):
    """A drawing states no unit, or one that does not fit its holes."""


class LengthError(HoleScheduleError, ValueError):
    """A text that is not a length."""


class GeometryError(HoleScheduleError, ValueError):
    """Coordinates that are not finite, or geometry that has no answer."""


class TableError(HoleScheduleError, ValueError):
    """A value that no packaged table holds, or a table that is damaged."""


class RuleError(HoleScheduleError, ValueError):
    """A rule set that does not exist, or a line of it that cannot be used."""


class SelectionError(HoleScheduleError, ValueError):
    """A selection of parts or holes that is not written as one, or names what is not there."""


class RecordError(HoleScheduleError, ValueError):
    """A record that cannot be read or written, or a command that it cannot take."""


class BuildError(HoleScheduleError, ValueError):
    """A build folder that is none, or a build.toml that cannot be used or changed."""


class ChecklistError(HoleScheduleError, ValueError):
    """A checklist that cannot be written, or a workbook that cannot be read as one."""


class JointError(HoleScheduleError, ValueError):
    """Parts that cannot be placed on each other, or a joint that cannot be made as stated."""
