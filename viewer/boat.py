"""Hold the boat that is on the screen: its design text, its history, and the last shape that could be built.

Computes: nothing by itself; builds and forms through `canvas.verbs`.
Units: metres, boat frame; the design's own in its text.
Source: none.
Limits: one thread at a time may build. A text that cannot be built stays in the draft and is said; the boat last
    built goes on being shown.
"""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path

from canvas import verbs
from canvas.cloth.rigging import Rigging
from canvas.design.editing import Draft, open_draft
from canvas.design.problems import DesignError, Problem
from canvas.jobs.failure import CouldNot
from canvas.sky.dome import DomeMap
from canvas.verbs.maps import known_map, take_over


class Boat:
    """One design being looked at and changed.

    Parameters
    ----------
    path : Path
        Of the design file.
    text : str, optional
        Of a boat that has no file yet; it is read from the file where absent.

    Raises
    ------
    DesignError
        When the file cannot be read or built.
    """

    def __init__(self, path: Path, *, text: str | None = None) -> None:
        self.path = path
        self.draft: Draft = open_draft(path) if text is None else Draft(text, path=path)
        self.rigging: Rigging = verbs.rigging_of(self.draft.source())
        self.problems: tuple[Problem, ...] = ()
        self.shown = ""  # the set whose shape must stand before a change is taken over
        self.saved_text = self.draft.text if text is None else ""
        self._past: list[str] = []
        self._future: list[str] = []
        self._mapped: Rigging | None = None

    @property
    def can_undo(self) -> bool:
        """Whether there is a change to take back."""
        return bool(self._past)

    @property
    def can_redo(self) -> bool:
        """Whether there is a change to make again."""
        return bool(self._future)

    @property
    def unsaved(self) -> bool:
        """Whether the text differs from what was last read or written."""
        return self.draft.text != self.saved_text

    def change(self, edit: Callable[[Draft], None]) -> bool:
        """Change the draft and build it; return whether the new boat stands.

        A change that cannot be built is taken back, its problems kept in `problems`.
        """
        before = self.draft.text
        try:
            edit(self.draft)
            if self.draft.text == before:
                return True
            built = self._built()
        except (DesignError, CouldNot) as refused:
            self.draft.restore(before)
            self.problems = problems_of(refused)
            return False
        self._past.append(before)
        self._future.clear()
        self.rigging, self.problems = built, ()
        return True

    def trial(self, edit: Callable[[Draft], None]) -> Rigging:
        """Return the boat with a change that is not taken over: a look ahead.

        Raises
        ------
        DesignError, CouldNot
            When it cannot be built.
        """
        draft = Draft(self.draft.text, path=self.path)
        edit(draft)
        return self._formed(draft)

    def undo(self) -> bool:
        """Take the last change back."""
        return self._step(self._past, self._future)

    def redo(self) -> bool:
        """Make the last change taken back again."""
        return self._step(self._future, self._past)

    def _step(self, source: list[str], other: list[str]) -> bool:
        if not source:
            return False
        other.append(self.draft.text)
        self.draft.restore(source.pop())
        self.rigging, self.problems = self._built(), ()
        return True

    def _built(self) -> Rigging:
        """Build the draft and put the set up that is shown, so that nothing is taken over that has no shape."""
        return self._formed(self.draft)

    def _formed(self, draft: Draft) -> Rigging:
        rigging = verbs.rigging_of(draft.source())
        rigging.take_over(self.rigging)
        if self.shown in rigging.model.design.set_names():
            rigging.rig(self.shown)
        return rigging

    def map_of(self, rigging: Rigging, set_name: str) -> DomeMap:
        """Return the dome map of a set of this boat, now or before an edit; what kept its shape is not traced again."""
        if self._mapped is not None and self._mapped is not rigging:
            take_over(rigging, self._mapped)
        found = known_map(rigging, set_name)
        self._mapped = rigging
        return found

    def changed_outside(self) -> bool:
        """Return whether the file on disk is no longer what was read or written last."""
        if not self.path.exists():
            return bool(self.saved_text)
        try:
            return open_draft(self.path).text != self.saved_text
        except DesignError:
            return True

    def save(self, *, over: bool = False) -> Path | None:
        """Write the draft back with its comments kept; return where what was overwritten went, if anything was.

        Parameters
        ----------
        over : bool
            Write although the file changed outside; what stands there goes beside it, so that nothing is lost.

        Raises
        ------
        DesignError
            When the file changed outside and `over` is False.
        """
        kept = None
        if over and self.path.exists():
            kept = free_name(self.path)
            shutil.copy2(self.path, kept)
            there = open_draft(self.path)
            there.restore(self.draft.text)
            self.draft = there
        self.draft.save()
        self.saved_text = self.draft.text
        return kept

    def begin(self, text: str, path: Path) -> None:
        """Begin a new boat: write her file, and forget what was tried before.

        Raises
        ------
        DesignError
            When she cannot be built, or a file of that name is there.
        """
        draft = Draft(text, path=path)
        self.rigging = self._formed(draft)
        draft.save()
        self.path, self.draft, self.saved_text = path, draft, draft.text
        self.problems, self._past, self._future = (), [], []

    def reload(self) -> bool:
        """Read the file again; where it is broken say so and keep the last good boat."""
        try:
            draft = open_draft(self.path)
            rigging = self._formed(draft)
        except (DesignError, CouldNot) as refused:
            self.problems = problems_of(refused)
            return False
        if draft.text != self.draft.text:
            self._past.append(self.draft.text)
            self._future.clear()
        self.draft, self.rigging, self.problems = draft, rigging, ()
        self.saved_text = draft.text
        return True


def problems_of(refused: DesignError | CouldNot) -> tuple[Problem, ...]:
    """Return what was refused as problems with a place."""
    if isinstance(refused, DesignError):
        return refused.problems
    return (Problem(code="no-shape", found=refused.what, wanted=refused.advice),)


def free_name(path: Path) -> Path:
    """Return a name beside a file that is not taken yet."""
    number = 1
    while (name := path.with_name(f"{path.stem}-before-{number}{path.suffix}")).exists():
        number += 1
    return name
