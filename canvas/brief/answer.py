"""Hold what a verb found, ready to be printed, drawn or written as a record.

Computes: nothing.
Units: as the results it holds.
Source: none.
Limits: the record is made once and kept.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from canvas.brief.records import Record
from canvas.cloth.rigging import Rigging
from canvas.design.problems import DesignError, Problem
from canvas.design.reading import Source
from canvas.jobs.files import untouched, write_whole


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Answer:
    """What a verb found.

    Attributes
    ----------
    verb : str
    rigging : Rigging
        The boat that was asked about.
    results : mapping of str to object
        The verb's result by set, in order.
    problems : tuple of Problem
        Warnings and notes.
    top : object
        What does not depend on a set; None where there is nothing.
    files : mapping of str to bytes
        Files that the verb makes, by name; `save` writes them.
    lists : frozenset of str
        Those of them that people type into, `sealed`, and which are therefore not written over once they were.
    writer : callable
        Makes the record from this answer.
    """

    verb: str
    rigging: Rigging
    results: Mapping[str, Any]
    writer: Callable[[Answer], Record]
    problems: tuple[Problem, ...] = ()
    top: Any = None
    files: Mapping[str, bytes] = field(default_factory=dict)
    lists: frozenset[str] = frozenset()
    memory: dict[str, Record] = field(default_factory=dict)

    @property
    def source(self) -> Source:
        """The design that was asked about."""
        return self.rigging.model.source

    def record(self) -> Record:
        """Return the answer as the JSON object that ``--json`` prints."""
        if "record" not in self.memory:
            self.memory["record"] = self.writer(self)
        return self.memory["record"]

    def save(self, folder: Path) -> tuple[Path, ...]:
        """Write the verb's files into a folder, each whole or not at all, and return where they went.

        Raises
        ------
        DesignError
            When a file would take the place of the design or of a list that was typed into, or would not lie in the
            folder; nothing is then written.
        CouldNot
            When the folder cannot be written.
        """
        targets = {folder / name: content for name, content in self.files.items()}
        problems = [
            Problem(code="wrong-place", key="-o", found=f"{target}, {why}", wanted="Choose another name.")
            for target in targets
            if (why := self._why_not(target, folder=folder)) is not None
        ]
        if problems:
            raise DesignError(problems)
        return tuple(write_whole(target, content) for target, content in targets.items())

    def _why_not(self, target: Path, *, folder: Path) -> str | None:
        """Return why a file must not be written there; None where it may be."""
        if not target.resolve().is_relative_to(folder.resolve()):
            return "which is outside the folder"
        if not target.is_file():
            return None
        design, name = Path(self.source.file), target.relative_to(folder).as_posix()
        if design.exists() and target.samefile(design):
            return "which is the design itself"
        if name in self.lists and not untouched(target.read_bytes()):
            return "a list that was typed into"
        return None
