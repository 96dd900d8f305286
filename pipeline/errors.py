"""The named errors, each with the exit code of the command line."""

__all__ = [
    "ContractError",
    "InputError",
    "KerfbookError",
    "NoCoresError",
    "NoRowsError",
    "OutputError",
    "SettingsError",
]


class KerfbookError(Exception):
    """An error that a user can correct; its text says where, what was found, what was expected, what to do."""

    exit_code = 1


class SettingsError(KerfbookError):
    """The programme file, the catalogue or the command line is wrong."""

    exit_code = 2


class InputError(KerfbookError):
    """A register or a layer cannot be used."""

    exit_code = 3


class NoCoresError(InputError):
    """A table of a register has a header, and no row with a core: ``label`` names it, ``what`` says what it has."""

    def __init__(self, label: str, what: str, remedy: str) -> None:
        super().__init__(f"{label}: {what}; expected one row per core. {remedy}")
        self.label = label
        self.what = what


class NoRowsError(InputError):
    """A table or layer has no rows at all; ``sha256``: of those of a database."""

    def __init__(self, text: str, sha256: str = "") -> None:
        super().__init__(text)
        self.sha256 = sha256


class OutputError(KerfbookError):
    """The outputs could not be written."""

    exit_code = 4


class ContractError(AssertionError):
    """A stage did not keep to its contract: a defect of this program, never of an input."""
