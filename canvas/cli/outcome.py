"""End a verb: its files, what it prints, and the exit code that its outcome asks for.

Computes: nothing; one wrapper turns errors into exit codes 0, 1, 2, 3 and 130.
Units: as people type them; see `canvas.design.units`.
Source: none.
Limits: heavy imports stand inside the verbs, so that help answers at once.
"""

from __future__ import annotations

import errno
import json
import os
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import typer

from canvas.design.problems import DesignError, Problem
from canvas.jobs.failure import CouldNot, Stopped
from canvas.jobs.progress import Progress

LEAST_MEMORY = 400_000_000  # bytes; with less, libraries of machine code end the process instead of saying so


def finish(
    verb: str,
    work: Callable[[], Any],
    *,
    as_json: bool = False,
    plots: Path | None = None,
    require: list[str] | None = None,
    save: Path | None = None,
) -> None:
    """Run a verb, save its files and pictures, print, and end with the exit code that its outcome asks for.

    Parameters
    ----------
    verb : str
    work : callable
        Gives the verb's `Answer`.
    as_json : bool
        Whether one JSON object is all that goes to standard output.
    plots, save : Path, optional
        Folders for pictures and for the verb's files.
    require : list of str, optional
        Names that must pass.

    Raises
    ------
    typer.Exit
        Always, with the exit code.
    """
    try:
        bytes(LEAST_MEMORY)  # asked for and given back, untouched
        code = _answered(work(), as_json=as_json, plots=plots, require=require or [], save=save)
    except DesignError as error:
        _complain(verb, error.problems, as_json=as_json)
        code = 2
    except CouldNot as failure:
        typer.echo(f"Could not be done: {failure}", err=True)
        code = 3
    except MemoryError:
        typer.echo(
            "Could not be done: not enough memory. Close other programs, or ask for fewer sets at once.", err=True
        )
        code = 3
    except BrokenPipeError:  # whoever read the output wanted no more of it
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        code = 3
    except OSError as error:
        typer.echo(f"Could not be done: {_of_machine(error)}", err=True)
        code = 3
    except (Stopped, KeyboardInterrupt):
        typer.echo("Stopped.", err=True)
        code = 130
    except Exception as fault:  # noqa: BLE001 - no traceback reaches a user; the fault is ours and is said so
        typer.echo(f"A fault in this program, not in your file: {type(fault).__name__}: {fault}", err=True)
        typer.echo("Please send the design and this line to whoever keeps the program. Nothing was written.", err=True)
        code = 3
    raise typer.Exit(code)


def _answered(answer: Any, *, as_json: bool, plots: Path | None, require: list[str], save: Path | None) -> int:
    """Save, draw and print an answer; return 1 where something that must pass does not, else 0."""
    missed = _missed(answer, require)
    if save is not None:
        answer.save(save)
    if plots is not None:
        _draw(answer, plots)
    _show(answer, as_json=as_json)
    if missed:
        typer.echo(f"Not passed: {', '.join(missed)}.", err=True)
    return 1 if missed else 0


def _of_machine(error: OSError) -> str:
    """Return what a machine refused, and what to do."""
    if error.errno in {None, errno.ENOMEM}:  # without a number where a library could not be loaded
        return f"{error.strerror or error}. Too little memory, or a broken install: close other programs."
    return f"{error.strerror or error}. Free some room or choose another place."


def _show(answer: Any, *, as_json: bool) -> None:
    if as_json:
        _say(answer.record())
        return
    from canvas.brief.tables import print_answer

    print_answer(answer.record())
    sys.stdout.flush()


def _say(record: dict[str, Any]) -> None:
    """Print a record as one line of UTF-8, whatever encoding the terminal speaks."""
    typer.echo(json.dumps(record, ensure_ascii=False, allow_nan=False).encode("utf-8"))


def _draw(answer: Any, folder: Path) -> None:
    from canvas.brief.pictures import write_pictures

    paths = write_pictures(answer, folder)
    for path in paths:
        typer.echo(f"wrote {path}", err=True)
    if not paths:
        typer.echo("No picture was drawn: this answer has none.", err=True)


def _missed(answer: Any, names: list[str]) -> list[str]:
    """Return the required names that do not pass in every set they apply to; a name no set knows is an error."""
    if not names:
        return []
    verdicts: dict[str, list[str]] = {}
    for one in answer.record()["sets"]:
        for part in (*one.get("checks", ()), *one.get("courses", ()), *one.get("parts", ())):
            verdicts.setdefault(part["name"], []).append(part.get("verdict", "unknown"))
    unknown = [name for name in names if name not in verdicts]
    if unknown:
        from canvas.design.problems import nearest

        raise DesignError(
            [
                Problem(code="unknown-check", key="--require", found=f'"{name}"', wanted=nearest(name, verdicts))
                for name in unknown
            ]
        )
    found = {name: [one for one in verdicts[name] if one != "not applicable"] for name in names}
    return [name for name in names if not found[name] or any(verdict != "pass" for verdict in found[name])]


def _complain(verb: str, problems: tuple[Problem, ...], *, as_json: bool) -> None:
    if as_json:
        from canvas.brief.records import failure

        _say(failure(verb, problems))
        return
    for problem in problems:
        typer.echo(str(problem), err=True)
    count = len(problems)
    typer.echo(f"{count} problem{'s' if count > 1 else ''} found; nothing was written.", err=True)


def shown_progress() -> Progress:
    """Return a progress that draws a line on standard error, or nothing where that is no terminal."""
    if not sys.stderr.isatty():
        return Progress()

    def show(what: str, done: int, total: int) -> None:
        sys.stderr.write(f"\r\033[K{done} of {total}: {what} ..." if done < total else "\r\033[K")
        sys.stderr.flush()

    return Progress(show)
