"""Where in the text of a TOML file an entry stands, so that an error can name its line."""

from __future__ import annotations

import re
from bisect import bisect_right

Path = tuple[str | int, ...]

_SPACE = re.compile(r"(?:[ \t\r\n]|#[^\n]*)*")
_BLANK = re.compile(r"[ \t]*")
_BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")
_BARE_VALUE = re.compile(r"[^,\]}\n#]*")
_STRINGS = (
    re.compile(r'"""(?:\\.|[^\\])*?"""(?:"{0,2})', re.DOTALL),
    re.compile(r"'''.*?'''(?:'{0,2})", re.DOTALL),
    re.compile(r'"(?:\\.|[^"\\\n])*"'),
    re.compile(r"'[^'\n]*'"),
)


class Lines:
    """The lines on which the keys, headers and list elements of a TOML text stand.

    The text must already have been read by a TOML reader: this scan knows where things begin and end, not
    what is allowed. Where it cannot tell it stops, and :meth:`line` answers with the nearest enclosing entry.
    """

    def __init__(self, text: str) -> None:
        self._text = text
        self._starts = [0, *(m.end() for m in re.finditer("\n", text))]
        self._found: dict[Path, int] = {}
        self._counts: dict[Path, int] = {}
        self._at = 0
        try:
            self._scan()
        except (_LostError, RecursionError):
            self._found.setdefault((), 1)

    def line(self, path: Path) -> int:
        """The line of ``path``, or of the nearest entry around it; 1 when there is none."""
        for end in range(len(path), 0, -1):
            if path[:end] in self._found:
                return self._found[path[:end]]
        return 1

    def text(self, line: int) -> str:
        """One line of the text, without its end."""
        rows = self._text.split("\n")
        return rows[line - 1].strip() if 0 < line <= len(rows) else ""

    def _record(self, path: Path) -> None:
        self._found.setdefault(path, bisect_right(self._starts, self._at))

    def _skip(self, pattern: re.Pattern[str]) -> None:
        match = pattern.match(self._text, self._at)
        if match:
            self._at = match.end()

    def _take(self, token: str) -> bool:
        if self._text.startswith(token, self._at):
            self._at += len(token)
            return True
        return False

    def _expect(self, token: str) -> None:
        if not self._take(token):
            raise _LostError

    def _scan(self) -> None:
        table: Path = ()
        while True:
            self._skip(_SPACE)
            if self._at >= len(self._text):
                return
            if self._take("[["):
                table = self._header(is_list=True)
            elif self._take("["):
                table = self._header(is_list=False)
            else:
                self._pair(table)

    def _header(self, *, is_list: bool) -> Path:
        start = self._at
        path: Path = ()
        keys = self._keys()
        for key in keys[:-1]:
            path = (*path, key)
            if path in self._counts:
                path = (*path, self._counts[path] - 1)
        path = (*path, keys[-1])
        self._at, after = start, self._at
        self._record(path)
        if is_list:
            self._counts[path] = self._counts.get(path, 0) + 1
            path = (*path, self._counts[path] - 1)
            self._record(path)
        self._at = after
        self._expect("]]" if is_list else "]")
        return path

    def _keys(self) -> list[str]:
        keys = []
        while True:
            self._skip(_BLANK)
            keys.append(self._key())
            self._skip(_BLANK)
            if not self._take("."):
                return keys

    def _key(self) -> str:
        match = _BARE_KEY.match(self._text, self._at)
        if match:
            self._at = match.end()
            return match[0]
        for pattern in _STRINGS[2:]:
            match = pattern.match(self._text, self._at)
            if match:
                self._at = match.end()
                return _unquote(match[0])
        raise _LostError

    def _pair(self, table: Path) -> None:
        start = self._at
        path = table
        for key in self._keys():
            path = (*path, key)
            self._at, after = start, self._at
            self._record(path)
            self._at = after
        self._expect("=")
        self._skip(_BLANK)
        self._value(path)

    def _value(self, path: Path) -> None:
        if self._take("{"):
            self._inside("}", path)
        elif self._take("["):
            self._inside("]", path)
        else:
            for pattern in _STRINGS:
                match = pattern.match(self._text, self._at)
                if match:
                    self._at = match.end()
                    return
            self._skip(_BARE_VALUE)

    def _inside(self, close: str, path: Path) -> None:
        index = 0
        while True:
            self._skip(_SPACE)
            if self._take(close):
                return
            if close == "}":
                self._pair(path)
            else:
                self._record((*path, index))
                self._value((*path, index))
                index += 1
            self._skip(_SPACE)
            if not self._take(","):
                self._expect(close)
                return


class _LostError(Exception):
    """The scan met something it does not know."""


def _unquote(text: str) -> str:
    import tomllib

    try:
        return str(tomllib.loads(f"k = {text}")["k"])
    except tomllib.TOMLDecodeError:
        raise _LostError from None
