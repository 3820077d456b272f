"""Change a design file in place, keeping its comments and order, and save it whole.

Computes: the text of a design after setting, adding, deleting or renaming parts of it, named by path.
Units: values as the file writes them; lengths given in metres are written in the file's own unit.
Source: TOML 1.0; tomlkit keeps comments, order and spacing.
Limits: a file that tomlkit cannot give back byte by byte is refused, not rewritten; a file that changed on disk since
    it was opened is not overwritten. Whether the result is a valid design is said by `Draft.source`, not here.
"""

from __future__ import annotations

import os
import tomllib
from collections.abc import Sequence
from copy import deepcopy
from pathlib import Path as FilePath
from typing import Any

import tomlkit
from tomlkit.container import OutOfOrderTableProxy
from tomlkit.exceptions import TOMLKitError
from tomlkit.items import AoT, Array, InlineTable, Table

from canvas.design import units
from canvas.design.positions import Path, key_lines, nearest_line, path_text
from canvas.design.problems import DesignError, Problem
from canvas.design.reading import Source, decoded, element_names, parse_design, raw_bytes
from canvas.design.references import references
from canvas.jobs.files import write_whole

BYTE_ORDER_MARK = b"\xef\xbb\xbf"


class Draft:
    """A design file while it is being changed.

    Parameters
    ----------
    text : str
        Of the file, line ends as they are.
    path : Path
        Where it is saved.
    on_disk : bytes or None
        What stood there when it was opened; None where the file is new.

    Raises
    ------
    DesignError
        When the text is not TOML, or not TOML that can be given back as it was.
    """

    def __init__(self, text: str, *, path: FilePath, on_disk: bytes | None = None) -> None:
        self.path = path
        self._on_disk = on_disk
        self._windows = "\r\n" in text and "\n" not in text.replace("\r\n", "")
        self._text = text.replace("\r\n", "\n") if self._windows else text
        self._document = self._parsed(self._text)
        self._read: dict[str, Any] = {}
        self._read_text: str | None = None

    @property
    def text(self) -> str:
        """The text as it stands now."""
        return self._text.replace("\n", "\r\n") if self._windows else self._text

    def source(self) -> Source:
        """Return the design as it stands now.

        Raises
        ------
        DesignError
            With every problem of it.
        """
        return parse_design(self.text, file=str(self.path), folder=self.path.parent)

    def value(self, path: Path) -> Any:
        """Return the plain value at a path; a DesignError (``no-such-part``) where there is none."""
        here: Any = self._plain()
        for part in path:
            try:
                here = here[part]
            except (KeyError, IndexError, TypeError):
                raise self._no_such(path) from None
        return deepcopy(here)

    def _plain(self) -> dict[str, Any]:
        """Return the whole text as plain values, read once for each text."""
        if self._read_text != self._text:
            self._read, self._read_text = tomllib.loads(self._text), self._text
        return self._read

    def set(self, path: Path, value: Any) -> None:
        """Put a value at a path; a key that is not there is added, a comment beside it stays.

        Parameters
        ----------
        path : tuple of str and int
            As in `canvas.design.positions.key_lines`.
        value : str, int, float, bool, list or dict
            As the file writes it.
        """
        self._put(path, value)
        self._keep()

    def set_length(self, path: Path, metres: float) -> None:
        """Put a length of so many `metres` at a path in the file's own unit; a bare number stays a bare number."""
        unit = str(self.value(("units",)))
        try:
            bare = isinstance(self.value(path), int | float)
        except DesignError:
            bare = False
        self.set(path, round(metres / units.LENGTHS[unit], 6) if bare else units.length_text(metres, unit))

    def set_point(self, path: Path, point: Sequence[float]) -> None:
        """Put the three coordinates of `point` [m] at a path in the file's own unit."""
        unit = str(self.value(("units",)))
        self.set(path, [units.length_text(float(part), unit) for part in point])

    def append(self, path: Path, value: Any) -> None:
        """Add a value to the list at a path; a list that is not there is begun.

        Parameters
        ----------
        path : tuple of str and int
            Such as ``("panel",)`` or ``("panel", 2, "edges")``.
        value : str, int, float, bool, list or dict
            As the file writes it; a dict becomes a table.
        """
        self._append(path, value)
        self._keep(again=True)

    def extend(self, path: Path, values: Sequence[Any], *, comment: str = "") -> None:
        """Add values to the list at a path, each on a line of its own, under a comment.

        Parameters
        ----------
        path : tuple of str and int
        values : sequence
            As in `append`.
        comment : str
            Said before the first, where the list is written between brackets.
        """
        holder, key = self._holder(path), path[-1]
        listed = holder.get(key)
        if isinstance(listed, Array):
            if comment:
                listed.add_line(comment=comment, indent="  ")
            for value in values:
                listed.add_line(_item(value, inline=True), indent="  ")
        else:
            for value in values:
                self._append(path, value)
        self._keep(again=True)

    def _append(self, path: Path, value: Any) -> None:
        holder, key = self._holder(path), path[-1]
        if key not in holder:
            if len(path) == 1 and isinstance(value, dict):
                holder[key] = tomlkit.aot()
            else:
                holder[key] = tomlkit.array()
        listed = holder[key]
        if isinstance(listed, AoT):
            block = _block(value)
            before = listed[-1].as_string() if len(listed) else self._text
            if before.endswith("\n\n"):
                block.add(tomlkit.nl())
            else:
                block.trivia.indent = "\n"
            listed.append(block)
        elif isinstance(listed, Array):
            listed.append(_item(value, inline=True))
        else:
            raise self._no_such(path, wanted="Only a list can be added to.")

    def delete(self, path: Path) -> None:
        """Take out the key or element at a path."""
        self.value(path)
        holder = self._holder(path)
        if isinstance(holder, Array) and isinstance(path[-1], int):
            holder.pop(path[-1])
        else:
            del holder[path[-1]]
        self._keep(again=True)

    def rename(self, path: Path, new: str) -> None:
        """Give a mark, tube, panel, edge, set, cloth or other named part a new name, wherever it is used.

        Parameters
        ----------
        path : tuple of str and int
            Of the part itself: ``("marks", "masthead")``, ``("tube", 1)``, ``("panel", 2, "edges", 0)``.
        new : str

        Raises
        ------
        DesignError
            When there is no such part, or the new name is taken by one of its kind.
        """
        data = self._plain()
        part = self.value(path)
        if path[0] != "marks" and (not isinstance(part, dict) or "name" not in part or len(path) < 2):
            raise self._no_such(path, wanted="Only a part with a name can be renamed.")
        users = references(data, path)
        if path[0] == "marks":
            if new in data["marks"]:
                raise self._no_such(path, wanted=f'There is a mark "{new}" already.')
            self._rename_key(path, new)
        else:
            others = self.value(path[:-1])
            if any(other.get("name") == new for other in others if other is not part):
                raise self._no_such(path, wanted=f'The name "{new}" is taken.')
            self._put((*path, "name"), new)
        priced = [user for user in users if user[:-1] == ("prices", "cloth")]
        for user in users:
            if user not in priced:
                self._put(user, new)
        self._keep()
        for user in priced:
            self._rename_key(user, new)

    def restore(self, text: str) -> None:
        """Go back, or forward again, to a text that this draft had before."""
        self._text = text.replace("\r\n", "\n") if self._windows else text
        self._document = self._parsed(self._text)

    def save(self) -> FilePath:
        """Write the file whole, unless it changed on disk since it was opened.

        Raises
        ------
        DesignError
            When the file changed, appeared or went meanwhile.
        CouldNot
            When it cannot be written.
        """
        there = self.path.read_bytes() if self.path.exists() else None
        if there != self._on_disk:
            problem = Problem(
                code="changed-on-disk", file=str(self.path), found="a file that changed since it was opened",
                wanted="Open it again, or save under another name.",
            )  # fmt: skip
            raise DesignError([problem])
        marked = self._on_disk is not None and self._on_disk.startswith(BYTE_ORDER_MARK)
        raw = (BYTE_ORDER_MARK if marked else b"") + self.text.encode("utf-8")
        if raw != there:
            write_whole(FilePath(os.path.realpath(self.path)), raw)
            self._on_disk = raw
        return self.path

    def _holder(self, path: Path) -> Any:
        """Return what holds the last part of a path; tables that are missing on the way are begun."""
        here: Any = self._document
        for place, part in enumerate(path[:-1]):
            try:
                here = here[part]
            except (KeyError, IndexError, TypeError, TOMLKitError):
                if isinstance(part, int) or not isinstance(here, Table | InlineTable | tomlkit.TOMLDocument):
                    raise self._no_such(path[: place + 1]) from None
                here[part] = tomlkit.inline_table() if isinstance(here, InlineTable) else tomlkit.table()
                here = here[part]
        if not isinstance(here, Table | InlineTable | Array | AoT | tomlkit.TOMLDocument | OutOfOrderTableProxy):
            raise self._no_such(path)
        return here

    def _put(self, path: Path, value: Any) -> None:
        holder = self._holder(path)
        if isinstance(path[-1], int) and not 0 <= path[-1] < len(holder):
            raise self._no_such(path)
        holder[path[-1]] = _item(value, inline=isinstance(holder, Array | InlineTable))

    def _keep(self, *, again: bool = False) -> None:
        """Take the changed document's text; read it again after parts came or went, to start from plain text."""
        self._text = tomlkit.dumps(self._document)
        if again:
            self._document = self._parsed(self._text)

    def _rename_key(self, path: Path, new: str) -> None:
        """Rename a key in the text itself, at its own line."""
        rows = self._text.split("\n")
        at = key_lines(self._text)[path] - 1
        old = str(path[-1])
        for form in (old, f'"{old}"', f"'{old}'"):
            head, found, tail = rows[at].partition(form)
            if found and tail.lstrip().startswith("=") and not head.rstrip().endswith('"'):
                key = new if new.replace("_", "").replace("-", "").isalnum() and new.isascii() else f'"{new}"'
                rows[at] = f"{head}{key}{tail}"
                self.restore("\n".join(rows))
                return
        raise self._no_such(path, wanted="Rename it by hand: it is written in a form this cannot change.")

    def _no_such(self, path: Path, *, wanted: str = "") -> DesignError:
        lines = key_lines(self._text)
        names = element_names(tomllib.loads(self._text))
        problem = Problem(
            code="no-such-part", file=str(self.path), line=nearest_line(lines, path), key=path_text(path, names),
            found="" if wanted else "no such part", wanted=wanted or "Name a part that the file has.",
        )  # fmt: skip
        return DesignError([problem])

    def _parsed(self, text: str) -> tomlkit.TOMLDocument:
        try:
            document = tomlkit.parse(text)
        except (TOMLKitError, ValueError, RecursionError) as error:
            found = f"text that is not TOML: {str(error).lower()}"
            raise DesignError(
                [Problem(code="not-toml", file=str(self.path), found=found, wanted="Mend it by hand first.")]
            ) from error
        if tomlkit.dumps(document) != text:
            problem = Problem(
                code="not-editable", file=str(self.path), found="a form that would not be kept when saved",
                wanted="Change this file by hand.",
            )  # fmt: skip
            raise DesignError([problem])
        return document


def open_draft(path: FilePath | str) -> Draft:
    """Open the design file at `path` for changing; it need not be a valid design yet.

    Raises
    ------
    DesignError
        When it cannot be read as text or TOML.
    """
    raw = raw_bytes(FilePath(path))
    return Draft(decoded(raw, file=str(path)), path=FilePath(path), on_disk=raw)


def _item(value: Any, *, inline: bool) -> Any:
    """Return a value as tomlkit holds it, spaced as the examples are."""
    if isinstance(value, dict) and not inline:
        return _block(value)
    return tomlkit.parse(f"value = {_written(value, inline=inline)}\n").item("value")


def _block(value: dict[str, Any]) -> Table:
    table = tomlkit.table()
    for key, part in value.items():
        table.append(key, _item(part, inline=isinstance(part, dict)))
    return table


def _written(value: Any, *, inline: bool) -> str:
    if isinstance(value, dict):
        pairs = [f"{tomlkit.key(key).as_string()} = {_written(part, inline=True)}" for key, part in value.items()]
        return "{ " + ", ".join(pairs) + " }" if pairs else "{}"
    if isinstance(value, list | tuple):
        parts = [_written(part, inline=True) for part in value]
        if not inline and any(isinstance(part, dict) for part in value):
            return "[\n" + "".join(f"  {part},\n" for part in parts) + "]"
        return "[" + ", ".join(parts) + "]"
    return str(tomlkit.item(value).as_string())
