"""Change the boat from the page: numbers, parts, sets, undo, save, and the start of a new one.

Computes: nothing; asks `viewer.boat` and says what came of it.
Units: the design's own on the page; metres inside.
Source: none.
Limits: one change at a time; what cannot be built is said and not kept.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from canvas.cloth.rigging import Rigging
from canvas.design import units
from canvas.design.editing import Draft
from canvas.design.schema.design import BARE
from viewer import answers, building, findings, handles, light, sights, starting
from viewer.building import Asked

if TYPE_CHECKING:
    from viewer.app import Viewer

PREVIEW_POINTS = 480  # sample points while a slider is held


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Ready:
    """A set put up beforehand, ready to be asked about light, with the vane's words for it."""

    rigging: Rigging
    name: str
    follower: light.Follower
    heel: float
    vane: answers.Cell


class Shaping:
    """What is changed from the page.

    Parameters
    ----------
    viewer : Viewer
    """

    def __init__(self, viewer: Viewer) -> None:
        self.v = viewer
        self._typed: dict[str, str] = {}
        self._dragged: tuple[str, int, float] = ("", 0, 0.0)
        self._dragging = False

    def triggers(self) -> dict[str, Callable[..., Any]]:
        """Return what the page may call, by name."""
        boat = self.v.boat
        return {
            "undo": lambda: self.change(boat.undo, "Taken back."),
            "redo": lambda: self.change(boat.redo, "Made again."),
            "save": self.save,
            "save_over": lambda: self.save(over=True),
            "reload": lambda: self.change(boat.reload, "Read again from disk."),
            "shape": self.shape,
            "drag": self.drag,
            "up": self.put_up,
            "add": self.add,
            "between": self.between,
            "copy": self.copy,
            "rename": self.rename,
            "delete": self.delete,
            "answer": self.answer,
            "begin": self.begin,
        }

    def change(self, step: Callable[[], bool], told: str, *, then: Callable[[], None] | None = None) -> None:
        """Change the boat in the background, then show it; what cannot be built is said and not kept."""
        v = self.v
        v.worker.next_turn()
        self._dragging = False
        v.say("")
        name, heel = v.state.set_name, v.asked().heel
        with v.state as s:
            s.busy, s.asks_over = "solving the cloth …", False
            stood = v.showing.forget()

        def done(outcome: Any) -> None:
            v.state.busy = ""
            if outcome is True:
                v.say(told)
                v.boat_changed()
                if then is not None:
                    then()
                return
            problems = v.boat.problems
            said = (
                str(outcome)
                if isinstance(outcome, Exception)
                else " · ".join(findings.problem_said(one) for one in problems[:3])
            )
            with v.state:
                v.showing.put(*stood)
                v.say(f"Not done, the last good shape is shown: {said}", wrong=True)
                v.show_handles()
            v.show_again()
            v.showing.answer_all()

        v.worker.ask(lambda: self._taken(step, name, heel), done, pace="quick")

    def _taken(self, step: Callable[[], bool], set_name: str, heel: float) -> bool:
        """Take a step, and make the set shown ready to be asked about vane and light in the same stride."""
        stands, rigging = step(), self.v.boat.rigging
        if stands and set_name in rigging.model.design.set_names():
            follower = light.Follower(rigging.rig(set_name))
            words = answers.vane_words(rigging, set_name, heel=heel)
            self.v.ready = Ready(rigging=rigging, name=set_name, follower=follower, heel=heel, vane=words)
        return stands

    def edit(self, step: Callable[[Draft], None], told: str, *, then: Callable[[], None] | None = None) -> None:
        """Change the draft by `step`."""
        self.change(lambda: self.v.boat.change(step), told, then=then)

    def shape(self, part: str, number: int, value: float | str) -> None:
        """Put a handle of a part to a value."""
        boat = self.v.boat
        found = handles.handles_of(boat.draft, boat.rigging, part)
        if not 0 <= number < len(found) or value in ("", None):
            return
        handle = found[number]
        told = f"{handle.label}: {handle.value} → {value} {handle.unit}"
        self.edit(lambda draft: handles.put(draft, handle, value), told)

    def drag(self, part: str, number: int, value: float) -> None:
        """Show what a slider would do while it is held: the last value asked for, by few points."""
        self._dragged = (part, number, value)
        if not self._dragging:
            self._dragging = True
            self._drag_on()

    def _drag_on(self) -> None:
        v, asked = self.v, self.v.asked()
        (part, number, value), name = self._dragged, v.state.set_name
        found = handles.handles_of(v.boat.draft, v.boat.rigging, part)
        if not 0 <= number < len(found):
            self._dragging = False
            return
        if abs(value - float(found[number].value)) < found[number].step / 2:  # back where it was: nothing is let go
            self._dragging = False
            v.show_again()
            return

        def work() -> tuple[light.Follower, light.Lit]:
            rigging = v.boat.trial(lambda draft: handles.put(draft, found[number], value))
            follower = light.Follower(rigging.rig(name), most=PREVIEW_POINTS)
            return follower, follower.at(asked)

        def done(outcome: Any) -> None:
            self._dragging = False
            if not isinstance(outcome, Exception):
                follower, lit = outcome
                v.showing.preview(follower, lit, sun_up=bool(asked.sun().apparent_altitude[0] > 0))
            if self._dragged != (part, number, value):
                self.drag(*self._dragged)

        v.worker.ask(work, done, pace="quick")

    def put_up(self, panel: str, up: bool, rolled: bool, opened: float = 0.0) -> None:  # noqa: FBT001 - from the page
        """Put a panel up in the set shown or take it down, roll its window, open its zip."""
        name, rigging = self.v.state.set_name, self.v.boat.rigging
        state = handles.UpState(up=up, rolled=rolled, zip_open=float(opened) / 100)
        told = f"“{panel}” {'up' if up else 'down'} in “{name}”"
        self.edit(lambda d: handles.put_up(d, rigging, name, panel, state), told)

    def add(self, kind: str, name: str, ends: list[str], numbers: list[Any]) -> None:
        """Add the part that the page describes."""
        s, rigging = self.v.state, self.v.boat.rigging
        try:
            metres = tuple(units.length(_read(text), bare=str(s.units)) for text in numbers)
        except ValueError as refused:
            self.v.say(str(refused), wrong=True)
            return
        here = s.set_name
        asked = Asked(kind=kind, name=name.strip(), ends=tuple(one for one in ends if one), numbers=metres)
        self.edit(
            lambda draft: building.add(draft, rigging, asked, set_name=here),
            f"Added the {asked.kind} “{asked.name}”.",
            then=lambda: self._show_new(asked.kind, asked.name),
        )

    def between(self, first: str, second: str, name: str) -> None:
        """Put a panel between two tubes."""
        here, rigging = self.v.state.set_name, self.v.boat.rigging
        called = name.strip() or f"{first} to {second}"
        asked = Asked(kind="panel", name=called, ends=(first, second))
        self.edit(
            lambda draft: building.add(draft, rigging, asked, set_name=here),
            f"“{called}” stands between the two.",
            then=lambda: self._show_new("panel", called),
        )

    def _show_new(self, kind: str, name: str) -> None:
        design = self.v.boat.rigging.model.design
        with self.v.state as s:
            s.new_name, s.between_name = "", ""
            if kind == "set":
                s.set_name = name
            elif kind == "panel" and s.set_name == BARE:
                s.set_name = design.home_set(design.panel_named(name)) or s.set_name
            key = handles.part_named(self.v.boat.rigging, name)
            if key is not None:
                s.part = key
                self.v.stage.pick(name)

    def copy(self, key: str, name: str) -> None:
        """Copy a part under a new name."""
        rigging, called = self.v.boat.rigging, name.strip()
        self.edit(lambda draft: building.copy(draft, rigging, key, name=called), f"Copied as “{called}”.")

    def rename(self, key: str, name: str) -> None:
        """Rename a part."""
        called = name.strip()
        self.edit(lambda draft: building.rename(draft, key, name=called), f"It is called “{called}” now.")

    def delete(self, key: str) -> None:
        """Take a part out; where others name it, it stays, and they are said."""
        boat = self.v.boat

        def step() -> bool:
            gone = boat.change(lambda draft: building.delete(draft, key))
            if not gone:
                boat.problems = building.hung(boat.draft, key, boat.problems)
            return gone

        self.change(step, "Taken out.")

    def save(self, *, over: bool = False) -> None:
        """Save to the same file; where it changed outside, ask."""
        v, boat = self.v, self.v.boat
        if v.state.starting:
            self.begin()
            return
        if not over and boat.changed_outside():
            with v.state as s:
                s.asks_over = True
            v.say(f"{boat.path.name} changed on disk since it was read. What shall stand?", wrong=True)
            return
        try:
            kept = boat.save(over=over)
        except Exception as refused:  # noqa: BLE001 - said on the screen; nothing was written
            v.say(f"Not saved: {refused}", wrong=True)
            return
        with v.state as s:
            s.unsaved, s.asks_over = False, False
        v.say(f"Saved {boat.path.name}." + (f" What stood there is in {kept.name}." if kept else ""))

    async def watch_file(self) -> None:
        """Read the file again when it changes outside and nothing here is unsaved; a broken one is said."""
        v, boat = self.v, self.v.boat
        last = (boat.path, sights.stamp(boat.path))
        while True:
            await asyncio.sleep(1.0)
            now = (boat.path, sights.stamp(boat.path))
            if now == last:
                continue
            last = now
            if not boat.changed_outside():
                continue
            if boat.unsaved:
                with v.state as s:
                    s.asks_over = True
                v.say(f"{boat.path.name} changed on disk, and there are changes here. What shall stand?", wrong=True)
            else:
                self.change(boat.reload, "The file changed on disk; read again.")

    def show_form(self) -> None:
        """Put the questions of a new boat on the page."""
        with self.v.state as s:
            s.form = list(starting.form_of(self._typed).rows)

    def answer(self, key: str, value: str) -> None:
        """Take an answer of the form, and draw the boat that it makes."""
        self._typed[str(key)] = str(value)
        self.draw()

    def begun_otherwise(self) -> None:
        """Draw the new boat with or without canvas, as it is chosen to begin."""
        if self.v.state.starting:
            self.draw()

    def draw(self) -> None:
        """Draw the boat that the answers make."""
        v = self.v
        form = starting.form_of(self._typed)
        with v.state as s:
            s.form = list(form.rows)
        if not form.wrong:
            text = starting.text_of(form, begin=v.state.begin_with, path=v.boat.path)
            self.edit(lambda draft: draft.restore(text), "")

    def begin(self) -> None:
        """Write the new boat's file and let her be shaped."""
        v = self.v
        form = starting.form_of(self._typed)
        if form.wrong:
            v.say("Mend the answers that are marked first.", wrong=True)
            return
        path = starting.file_name(str(form.answers["name"]), v.boat.path.parent)
        text = starting.text_of(form, begin=v.state.begin_with, path=path)

        def written() -> bool:
            v.boat.begin(text, path)
            return True

        def shown() -> None:
            v.looking.look("the quarter")
            with v.state as s:
                s.starting = False
                s.tab = "Build" if s.begin_with == "frames" else "Sun"

        self.change(written, f"Begun: {path.name}. Save writes it again after changes.", then=shown)


def _read(text: Any) -> Any:
    """Return a number box's text as the design file would have it: a bare number, or a length with its unit."""
    try:
        return float(text)
    except ValueError:
        return str(text)
