"""The one exception tree. Every error says what is wrong, the value, what is allowed and what to do."""

from __future__ import annotations


class SoakbookError(Exception):
    """Base of all errors raised on purpose.

    Parameters
    ----------
    message
        What is wrong, with the value and what is allowed.
    code
        Stable short name for programs, such as ``"unit.unknown"``.
    field
        Which entry it is about, such as ``"places.2.soil"``.
    hint
        What to do about it.
    """

    exit_code = 1

    def __init__(self, message: str, *, code: str = "error", field: str = "", hint: str = "") -> None:
        super().__init__(message)
        self.message = message
        self.code = code
        self.field = field
        self.hint = hint

    def __str__(self) -> str:
        return f"{self.message} {self.hint}".strip()

    def to_json(self) -> dict[str, str]:
        """The one shape in which errors leave the program."""
        return {"code": self.code, "message": self.message, "field": self.field, "hint": self.hint}


class InputError(SoakbookError):
    """Something the user gave cannot be used."""

    exit_code = 2


class SourceDown(SoakbookError):
    """A source outside the program (network, service) did not answer usefully."""

    exit_code = 3


class InputErrors(InputError):
    """Several things wrong at once, such as in one garden file."""

    def __init__(self, errors: list[InputError], *, code: str = "several") -> None:
        super().__init__("\n".join(str(e) for e in errors), code=code)
        self.errors = errors
