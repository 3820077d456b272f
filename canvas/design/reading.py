"""Read a design file: text to TOML to records, with every problem found, each with its line.

Computes: a `Design` with the text it came from, or the list of all problems.
Units: SI and radians out.
Source: TOML 1.0 (tomllib); records by pydantic.
Limits: geometry is checked later, by `canvas.geometry`; here only form, quantities and names.
"""

from __future__ import annotations

import hashlib
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path as FilePath
from typing import Any, Literal

from pydantic import ValidationError

from canvas.design.complaints import Where, record_problems
from canvas.design.names import name_problems
from canvas.design.positions import Path, key_lines, nearest_line, path_text
from canvas.design.problems import DesignError, Problem
from canvas.design.schema.design import Design
from canvas.design.units import BARE_LENGTHS

MOST_BYTES = 4_000_000  # a design is some tens of kilobytes; more than this is another kind of file


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Source:
    """A design with the text it was read from.

    Attributes
    ----------
    design : Design
    text : str
        As on disk.
    file : str
        As the user named it.
    folder : FilePath
        Where mesh files named in the design are looked for.
    lines : mapping
        Line of every key; see `canvas.design.positions.key_lines`.
    """

    design: Design
    text: str
    file: str
    folder: FilePath
    lines: Mapping[Path, int]

    @property
    def sha256(self) -> str:
        """Hash of the text, which names this state of the design."""
        return hashlib.sha256(self.text.encode("utf-8")).hexdigest()

    def problem(
        self,
        path: Path,
        *,
        code: str,
        found: str,
        wanted: str,
        severity: Literal["error", "warning", "note"] = "error",
    ) -> Problem:
        """Return a problem at a path of this file.

        Parameters
        ----------
        path : tuple of str and int
            As in `canvas.design.positions.key_lines`.
        code, found, wanted, severity : str
            As in `canvas.design.problems.Problem`.
        """
        return Problem(
            code=code,
            severity=severity,
            file=self.file,
            line=nearest_line(self.lines, path),
            key=path_text(path, _names_in(self.text)),
            found=found,
            wanted=wanted,
        )


def read_design(path: FilePath | str) -> Source:
    """Read the design file at `path`.

    Raises
    ------
    DesignError
        With all problems: not a file, not UTF-8, not TOML, unknown or missing keys, wrong quantities, unknown names.
    """
    file = str(path)
    return parse_design(decoded(raw_bytes(FilePath(path)), file=file), file=file, folder=FilePath(path).parent)


def parse_design(text: str, *, file: str, folder: FilePath) -> Source:
    """Read a design from text; see `read_design`.

    Parameters
    ----------
    text : str
    file : str
        What problems call it.
    folder : Path
        Where the files that it names lie.

    Raises
    ------
    DesignError
        With all problems: not TOML, unknown or missing keys, wrong quantities, unknown names.
    """
    data = toml_data(text, file=file)
    lines = _lines_of(text, file=file)
    try:
        design = Design.model_validate(data, context={"units": _declared_units(data)})
    except ValidationError as error:
        where = Where(file=file, data=data, lines=lines, names=element_names(data))
        raise DesignError(record_problems(error, where=where)) from error
    source = Source(design=design, text=text, file=file, folder=folder, lines=lines)
    problems = [
        source.problem(issue.path, code=issue.code, found=issue.found, wanted=issue.wanted)
        for issue in name_problems(design)
    ]
    if problems:
        raise DesignError(problems)
    return source


def toml_data(text: str, *, file: str) -> dict[str, Any]:
    """Return the tables of a text in TOML.

    Raises
    ------
    DesignError
        When it is not TOML, with the line; when a number or a nest of brackets has no end.
    """
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise DesignError([_syntax_problem(error, text, file=file)]) from error
    except ValueError as error:  # a whole number of thousands of digits
        raise DesignError([_plain(file, "not-toml", "a number too long to read", "Shorten it.")]) from error
    except RecursionError as error:
        raise DesignError([_plain(file, "not-toml", "brackets nested too deep", "Flatten them.")]) from error


def element_names(data: Mapping[str, Any]) -> Mapping[Path, str]:
    """Return the names of the elements of the file's arrays of tables, by path."""
    return {
        (key, index): element["name"]
        for key, value in data.items()
        if isinstance(value, list)
        for index, element in enumerate(value)
        if isinstance(element, dict) and isinstance(element.get("name"), str)
    }


@lru_cache(maxsize=4)
def _names_in(text: str) -> Mapping[Path, str]:
    return element_names(tomllib.loads(text))


def _lines_of(text: str, *, file: str) -> Mapping[Path, int]:
    try:
        return key_lines(text)
    except RecursionError as error:
        raise DesignError([_plain(file, "not-toml", "brackets nested too deep", "Flatten them.")]) from error


def raw_bytes(path: FilePath) -> bytes:
    """Return what stands in the file at `path`.

    Raises
    ------
    DesignError
        When it is no file, too large for a design, or cannot be read.
    """
    file = str(path)
    try:
        if path.exists() and not path.is_file():
            found = "a folder" if path.is_dir() else "something that is not a file"
            raise DesignError([_plain(file, "not-a-file", found, "Name the design file itself, such as boat.toml.")])
        size = path.stat().st_size
        if size > MOST_BYTES:
            raise DesignError([_plain(file, "too-large", f"{size} bytes", "A design file is text of a few pages.")])
        return path.read_bytes()
    except FileNotFoundError as error:
        raise DesignError(
            [_plain(file, "no-file", "no such file", "Check the name, or start one with: canvas new FILE")]
        ) from error
    except (OSError, ValueError) as error:
        found = getattr(error, "strerror", None) or str(error)
        raise DesignError([_plain(file, "not-readable", found, "Check the file's name and permissions.")]) from error


def decoded(raw: bytes, *, file: str) -> str:
    """Return the text of a file, a byte order mark left off.

    Raises
    ------
    DesignError
        When it is not UTF-8; with the line.
    """
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw[: error.start].count(b"\n") + 1
        found = f"a byte that is not UTF-8 (0x{raw[error.start]:02x})"
        raise DesignError(
            [Problem(code="not-utf8", file=file, line=line, found=found, wanted="Save the file as UTF-8 text.")]
        ) from error


def _plain(file: str, code: str, found: str, wanted: str) -> Problem:
    return Problem(code=code, file=file, found=found, wanted=wanted)


def _syntax_problem(error: tomllib.TOMLDecodeError, text: str, *, file: str) -> Problem:
    message = str(error)
    line = None
    if "(at line " in message:
        message, _, tail = message.partition(" (at line ")
        line = int(tail.split(",")[0])
    elif message.endswith(" (at end of document)"):
        message, line = message.removesuffix(" (at end of document)"), text.count("\n") + 1
    return Problem(
        code="not-toml",
        file=file,
        line=line,
        found=f"text that is not TOML: {message.lower()}",
        wanted="Mend that line; see the examples for the form.",
    )


def _declared_units(data: Mapping[str, Any]) -> str:
    declared = data.get("units")
    return declared if declared in BARE_LENGTHS else "m"
