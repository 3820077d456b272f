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
from canvas.design.problems import Problem
from canvas.design.reading import Source
from canvas.jobs.files import write_whole


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
        CouldNot
            When the folder cannot be written.
        """
        return tuple(write_whole(folder / name, content) for name, content in self.files.items())
