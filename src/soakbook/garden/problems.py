"""Collects everything wrong in a garden file, each with its line, so that the grower sees it all at once."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, TypeVar

from pydantic import ValidationError

from soakbook.errors import InputError, InputErrors
from soakbook.garden.locate import Lines, Path
from soakbook.garden.schema import Table
from soakbook.garden.words import KnownWords, nearest, plain, some
from soakbook.said import say

T = TypeVar("T", bound=Table)

#: Checking stops here: so many errors have one cause.
MOST_ERRORS = 100
#: Elements of one list of tables.
MOST_TABLES = 2000


class Problems:
    """What is wrong in one file so far."""

    def __init__(self, file_name: str, lines: Lines | None, known: KnownWords) -> None:
        self.file_name = file_name
        self.known = known
        self._lines = lines
        self._errors: dict[Path, tuple[int, InputError]] = {}
        self._wrong: set[Path] = set()

    def add(self, path: Path, message: str, *, code: str, hint: str = "") -> None:
        """Note an error at ``path``; the first one at a path is kept."""
        line = self._lines.line(path) if self._lines is not None else 0
        where = ".".join(str(p + 1) if isinstance(p, int) else str(p) for p in path)
        where = "".join(c if c.isprintable() else "?" for c in where)[:120]
        error = InputError(
            say(
                "{file_name}, line {line}, {where}: {message}",
                file_name=self.file_name,
                line=line,
                where=where,
                message=message,
            )
            if self._lines is not None
            else message,  # a form shows it beside the entry
            code=code,
            field=where,
            hint=hint,
        )
        self._errors.setdefault(path, (line, error))
        self._wrong.update(path[:end] for end in range(len(path) + 1))
        if len(self._errors) >= MOST_ERRORS:
            self.raise_if_any()

    def relay(self, path: Path, error: InputError) -> None:
        """Note an error that was raised elsewhere."""
        self.add(path, error.message, code=error.code, hint=error.hint)

    def any_under(self, path: Path) -> bool:
        """Whether something at or below ``path`` is already known to be wrong."""
        return path in self._wrong

    def raise_if_any(self) -> None:
        """Raise what was found, in the order of the lines."""
        errors = [e for _, e in sorted(self._errors.values(), key=lambda item: item[0])]
        if len(errors) >= MOST_ERRORS:
            message = say(
                "{file_name}: checking stopped after {most} errors.",
                file_name=self.file_name,
                most=MOST_ERRORS,
            )
            errors.append(InputError(message, code="garden.more"))
        if len(errors) == 1:
            raise errors[0]
        if errors:
            raise InputErrors(errors, code="garden.several")

    def table(self, model: type[T], raw: Any, path: Path, *, skip: tuple[str, ...] = ()) -> T | None:
        """Read one table with its model; None, and the errors noted, when it does not fit."""
        if not isinstance(raw, dict):
            self.add(path, say("it must be a table of entries, not {kind}.", kind=_kind(raw)), code="table")
            return None
        wanted = {key: value for key, value in raw.items() if key not in skip}
        try:
            return model.model_validate(wanted, context={"known": self.known})
        except ValidationError as invalid:
            for detail in invalid.errors(include_url=False, include_input=False):
                self._note(model, detail, path, skip)
            return None

    def _note(self, model: type[T], detail: Mapping[str, Any], path: Path, skip: tuple[str, ...]) -> None:
        at = (*path, *detail["loc"][:1])
        key = str(detail["loc"][0]) if detail["loc"] else ""
        if detail["type"] == "soakbook":
            ctx = detail["ctx"]
            self.add(at, ctx["message"], code=ctx["code"], hint=ctx["hint"])
        elif detail["type"] == "missing":
            self.add(at, say('"{key}" is missing.', key=key), code="key.missing")
        elif detail["type"] == "extra_forbidden":
            keys = [*model.model_fields, *skip]
            self.add(
                at,
                say("this entry is not known here."),
                code="key.unknown",
                hint=nearest(key, keys) or say("Known here: {words}.", words=some(keys, 40)),
            )
        else:
            self.add(at, f"{detail['msg']}.", code=f"value.{detail['type']}")

    def tables(self, raw: Any, path: Path, example: str) -> list[tuple[Path, Any]]:
        """The elements of a list of tables with their paths; an error when it is no list."""
        if not isinstance(raw, list):
            self.add(
                path,
                say("it must be a list, written with double brackets: {example}.", example=example),
                code="table.list",
            )
            return []
        if len(raw) > MOST_TABLES:
            self.add(
                path,
                say("it has {n} elements; at most {most}.", n=len(raw), most=MOST_TABLES),
                code="table.long",
            )
            return []
        return [((*path, index), item) for index, item in enumerate(raw)]


def claim_name(item: Any, path: Path, taken: dict[str, Any], problems: Problems, what: str) -> str:
    """The name of a table, an error when another has it already; empty when it has none that can be read."""
    name = item.get("name") if isinstance(item, dict) else None
    if not isinstance(name, str) or not name.strip():
        return ""
    name = name.strip()
    if plain(name) in {plain(other) for other in taken}:
        problems.add(
            (*path, "name"),
            say('"{name}" is the name of another {what} already.', name=name, what=what),
            code="name.twice",
            hint=say("Give each a name of its own."),
        )
    return name


def _kind(raw: Any) -> str:
    if isinstance(raw, bool):
        return say("true or false")
    if isinstance(raw, int | float):
        return say("a number")
    if isinstance(raw, str):
        return say("text")
    return say("a list") if isinstance(raw, list) else say("a date")
