"""Find the line of every key and element in a TOML text.

Computes: a map from path, such as ("panel", 1, "edges", 2, "hollow"), to line number from 1.
Units: lines.
Source: TOML 1.0 grammar; the text has been read by tomllib before, so only valid TOML is walked.
Limits: own walk, because neither tomllib nor tomlkit says where a key stands.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping

Path = tuple[str | int, ...]

_BLANK = re.compile(r"(?:[ \t\r\n]+|#[^\n]*)*")
_SPACE = re.compile(r"[ \t]*")
_BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")
_SCALAR = re.compile(r"[^,\]}\n#]*")
_STRINGS = {
    '"""': re.compile(r'"""(?:\\[\s\S]|(?!""")[\s\S])*"{3,5}'),
    "'''": re.compile(r"'''(?:(?!''')[\s\S])*'{3,5}"),
    '"': re.compile(r'"(?:\\.|[^"\\\n])*"'),
    "'": re.compile(r"'[^'\n]*'"),
}


class _Walk:
    def __init__(self, text: str) -> None:
        self.text = text
        self.at = 0
        self.lines: dict[Path, int] = {(): 1}
        self.counts: dict[Path, int] = {}
        self._counted_to = 0
        self._line = 1

    def line(self) -> int:
        self._line += self.text.count("\n", self._counted_to, self.at)
        self._counted_to = self.at
        return self._line

    def skip(self, pattern: re.Pattern[str]) -> str:
        match = pattern.match(self.text, self.at)
        if match is None:
            raise ValueError(f"line {self.line()} does not read as TOML")
        self.at = match.end()
        return match.group()

    def opens(self, mark: str) -> bool:
        if self.text.startswith(mark, self.at):
            self.at += len(mark)
            return True
        return False

    def string(self) -> str | None:
        for mark, pattern in _STRINGS.items():
            if self.text.startswith(mark, self.at):
                return self.skip(pattern)
        return None

    def key(self) -> list[str]:
        parts = []
        while True:
            self.skip(_SPACE)
            quoted = self.string()
            parts.append(_plain(quoted) if quoted is not None else self.skip(_BARE_KEY))
            self.skip(_SPACE)
            if not self.opens("."):
                return parts

    def note(self, path: Path) -> None:
        self.lines.setdefault(path, self.line())

    def header(self, *, array: bool) -> Path:
        keys = self.key()
        path: Path = ()
        for key in keys[:-1]:
            path += (key,)
            self.note(path)
            if path in self.counts:
                path += (self.counts[path] - 1,)
        path += (keys[-1],)
        if array:
            self.note(path)
            self.counts[path] = self.counts.get(path, 0) + 1
            path += (self.counts[path] - 1,)
        self.note(path)
        self.at += 2 if array else 1
        return path

    def pair(self, base: Path) -> None:
        line_keys = self.key()
        path = base
        for key in line_keys:
            path += (key,)
            self.note(path)
        self.at += 1  # the equals sign
        self.skip(_SPACE)
        self.value(path)

    def value(self, path: Path) -> None:
        if self.string() is not None:
            return
        if self.opens("["):
            self.elements(path)
        elif self.opens("{"):
            self.inline(path)
        else:
            self.skip(_SCALAR)

    def elements(self, path: Path) -> None:
        index = 0
        while True:
            self.skip(_BLANK)
            if self.opens("]"):
                return
            if self.opens(","):
                continue
            self.note((*path, index))
            self.value((*path, index))
            index += 1

    def inline(self, path: Path) -> None:
        while True:
            self.skip(_BLANK)
            if self.opens("}"):
                return
            if self.opens(","):
                continue
            self.pair(path)

    def document(self) -> Mapping[Path, int]:
        base: Path = ()
        while True:
            self.skip(_BLANK)
            if self.at >= len(self.text):
                return self.lines
            if self.opens("[["):
                base = self.header(array=True)
            elif self.opens("["):
                base = self.header(array=False)
            else:
                self.pair(base)


def _plain(quoted: str) -> str:
    """Return a quoted key without quotes and escapes."""
    return str(tomllib.loads(f"key = {quoted}")["key"])


def key_lines(text: str) -> Mapping[Path, int]:
    r"""Return the line of every key and array element of a valid TOML text.

    Parameters
    ----------
    text : str
        Text that tomllib reads.

    Returns
    -------
    mapping of path to int
        Lines count from 1; the empty path is line 1.

    Examples
    --------
    >>> key_lines('a = 1\n[[b]]\nc = [2,\n 3]')[("b", 0, "c", 1)]
    4
    """
    return _Walk(text).document()


def nearest_line(lines: Mapping[Path, int], path: Path) -> int | None:
    """Return the line of `path`, or of the longest part of it that stands in the file."""
    for length in range(len(path), -1, -1):
        if path[:length] in lines:
            return lines[path[:length]]
    return None


def path_text(path: Path, names: Mapping[Path, str]) -> str:
    """Return a path for people, such as ``panel "watch tent roof", edges[2].hollow``.

    Parameters
    ----------
    path : tuple
        As in `key_lines`.
    names : mapping
        Names of array elements by path, where they have one.
    """
    text = ""
    for place, part in enumerate(path):
        if isinstance(part, int):
            name = names.get(path[: place + 1])
            text += f' "{name}",' if name is not None and place == 1 else f"[{part}]"
        elif text.endswith(","):
            text += f" {part}"
        else:
            text += f".{part}" if text else part
    return text.rstrip(",")
