"""Where each value of a TOML text stands, so that a fault can name its line.

`tomllib` reads the values and checks the syntax but forgets the lines. This scanner runs on text
that `tomllib` has accepted, so it only has to keep its place.
"""

from __future__ import annotations

import re
import tomllib

Path = tuple[str | int, ...]

_BLANK = re.compile(r"(?:[ \t\r\n]|#[^\n]*)*")
_SPACE = re.compile(r"[ \t]*")
_STRING = re.compile(
    r'"""(?:[^\\]|\\.)*?"{3,5}|\'\'\'.*?\'{3,5}|"(?:[^"\\\n]|\\.)*"|\'[^\'\n]*\'', re.DOTALL
)
_BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")
_BARE_VALUE = re.compile(r"[^,\]}#\n]+")


def line_index(text: str) -> dict[Path, int]:
    """Return the line (from 1) of every section, key and list item of a valid TOML text.

    Parameters
    ----------
    text : str
        Text that `tomllib.loads` accepts.

    Returns
    -------
    dict
        Path of keys and list positions -> line.
    """
    scanner = _Scanner(text)
    scanner.run()
    return scanner.lines


class _Scanner:
    def __init__(self, text: str) -> None:
        self.text = text
        self.at = 0
        self.lines: dict[Path, int] = {}
        self._counts: dict[Path, int] = {}

    def run(self) -> None:
        section: Path = ()
        self._skip(_BLANK)
        while self.at < len(self.text):
            if self._next() == "[":
                section = self._header()
            else:
                self._pair(section)
            self._skip(_BLANK)

    def _header(self) -> Path:
        double = self.text.startswith("[[", self.at)
        line = self._line()
        self.at += 2 if double else 1
        path = self._inside_lists(self._keys())
        self.at += 2 if double else 1
        if double:
            self.lines.setdefault(path, line)
            self._counts[path] = self._counts.get(path, -1) + 1
            path = (*path, self._counts[path])
        self.lines[path] = line
        return path

    def _inside_lists(self, keys: list[str]) -> Path:
        """Put the position of the newest item after each key that names a list of sections."""
        path: Path = ()
        for key in keys[:-1]:
            path = (*path, key)
            if path in self._counts:
                path = (*path, self._counts[path])
        path = (*path, keys[-1])
        return path

    def _pair(self, section: Path) -> None:
        line = self._line()
        keys = self._keys()
        for n in range(1, len(keys) + 1):
            self.lines.setdefault((*section, *keys[:n]), line)
        self.at += 1  # the equals sign
        self._value((*section, *keys))

    def _keys(self) -> list[str]:
        keys: list[str] = []
        while True:
            self._skip(_SPACE)
            match = _STRING.match(self.text, self.at) or _BARE_KEY.match(self.text, self.at)
            if match is None:
                return keys
            keys.append(_unquote(match[0]))
            self.at = match.end()
            self._skip(_SPACE)
            if self._next() != ".":
                return keys
            self.at += 1

    def _value(self, path: Path) -> None:
        self._skip(_BLANK)
        self.lines.setdefault(path, self._line())
        if self._next() == "[":
            self._list(path)
        elif self._next() == "{":
            self._inline_table(path)
        else:
            match = _STRING.match(self.text, self.at) or _BARE_VALUE.match(self.text, self.at)
            self.at = match.end() if match else len(self.text)

    def _list(self, path: Path) -> None:
        self.at += 1
        position = 0
        while not self._ends("]"):
            self._value((*path, position))
            position += 1

    def _inline_table(self, path: Path) -> None:
        self.at += 1
        while not self._ends("}"):
            self._pair(path)

    def _ends(self, bracket: str) -> bool:
        """Step over blanks and commas; True (and past it) at the closing bracket."""
        self._skip(_BLANK)
        if self._next() == ",":
            self.at += 1
            self._skip(_BLANK)
        if self._next() not in {bracket, ""}:
            return False
        self.at += 1
        return True

    def _next(self) -> str:
        return self.text[self.at : self.at + 1]

    def _skip(self, pattern: re.Pattern[str]) -> None:
        match = pattern.match(self.text, self.at)
        self.at = match.end() if match else self.at

    def _line(self) -> int:
        return self.text.count("\n", 0, self.at) + 1


def _unquote(key: str) -> str:
    if key[0] not in "\"'":
        return key
    return next(iter(tomllib.loads(f"{key} = 0")))
