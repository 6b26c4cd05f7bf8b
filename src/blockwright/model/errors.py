"""What can go wrong before any work is done, said in one plain sentence.

Defects of the printmaker's *work* are findings (:mod:`blockwright.model.findings`), not errors.
"""


class BlockwrightError(Exception):
    """The base of every error that blockwright raises on purpose; its text is one plain sentence."""


class PictureError(BlockwrightError, ValueError):
    """A picture cannot be read, or is not a picture that can be printed from blocks."""


class SettingsError(BlockwrightError, ValueError):
    """A setting in ``print.toml`` or on the command line has a wrong name, unit or value."""


class FolderError(BlockwrightError, OSError):
    """A print folder is missing, is no print folder, or cannot be written."""


class InkError(BlockwrightError, ValueError):
    """A measured spectrum, a pigment or an amount of ink is missing, impossible or cannot be matched."""


class BitError(BlockwrightError, ValueError):
    """A router bit or a machine is not on the shelf, or is none that could be."""


class StudioError(BlockwrightError, OSError):
    """The studio's database cannot be opened, read or written."""


class ProgramError(BlockwrightError, ValueError):
    """A router program cannot be read, or cannot be written for the machine; the text names the line."""
