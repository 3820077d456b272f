"""The verbs of a boat and its numbers: start, check, measure, capture.

Computes: nothing; each reads its options and calls the verb of the same name.
Units: as people type them; see `canvas.design.units`.
Source: none.
Limits: heavy imports stand inside the verbs, so that help answers at once.
"""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated, Any

import typer

from canvas.cli.options import Design, File, Folder, Json, Paper, Plots, Require, Sets, Units
from canvas.cli.outcome import finish


def new(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="The design file to start.", show_default=False)],
    like: Annotated[
        str | None, typer.Option("--like", metavar="EXAMPLE", help="Start from an example under a new name.")
    ] = None,
) -> None:
    """Start a design of one's own boat from some twenty answers, drawn as you go.

    Example: canvas new boat.toml
    """

    def work() -> Any:
        from canvas import verbs

        return verbs.new(file, like=like, ask=_ask, show=typer.echo)

    finish("new", work)


def _ask(prompt: str) -> str:
    typer.echo(prompt, nl=False)
    line = sys.stdin.readline()
    if not line:
        raise EOFError
    return line.rstrip("\n")


def check(
    design: Design, sets: Sets = None, plots: Plots = None, as_json: Json = False, require: Require = None
) -> None:
    """Read a design, build it, and list all that is missing, odd or impossible.

    Example: canvas check examples/marrowgrass.toml
    """

    def work() -> Any:
        from canvas import verbs

        return verbs.check(design, sets=sets)

    finish("check", work, as_json=as_json, plots=plots, require=require)


def sheet(design: Design, out: File, paper: Paper = None, units: Units = None, as_json: Json = False) -> None:
    """Plan what to measure and write the sheet to measure with.

    Example: canvas sheet examples/oddfellow.toml -o out/measure.pdf
    """

    def work() -> Any:
        from canvas import verbs
        from canvas.brief.paper import READ_ON
        from canvas.design import asked

        size = asked.choice_or_none("--paper", paper, READ_ON)
        unit = asked.choice_or_none("--units", units, ("m", "mm", "ft", "in"))
        return verbs.sheet(design, paper=size, units=unit, name=out.name)

    finish("sheet", work, as_json=as_json, save=out.parent)


def survey(design: Design, plots: Plots = None, as_json: Json = False) -> None:
    """Adjust the readings to marks, say how well each is known, and name the readings most likely wrong.

    Example: canvas survey examples/oddfellow.toml
    """

    def work() -> Any:
        from canvas import verbs

        return verbs.survey(design)

    finish("survey", work, as_json=as_json, plots=plots)


def scan(
    design: Design,
    file: Annotated[Path, typer.Argument(metavar="FILE", help="The scan: PLY, OBJ, GLB or STL.", show_default=False)],
    out: Folder,
    points: Annotated[
        Path,
        typer.Option(
            "--points", metavar="FILE", help="Picked points: CSV name, x, y, z, on; or TOML.", show_default=False
        ),
    ],
    distance: Annotated[
        list[str] | None,
        typer.Option("--distance", metavar="TEXT", help='Taped: "winch_port winch_stbd 1.85 m"; may be repeated.'),
    ] = None,
    hold: Annotated[
        list[str] | None,
        typer.Option("--hold", metavar="MARK", help="Lay the scan on this mark's coordinates; repeat."),
    ] = None,
    up: Annotated[
        str | None,
        typer.Option("--up", metavar="AXIS", help='Up in the scan, boat at rest: "y", "-z" or three numbers.'),
    ] = None,
    cell: Annotated[str, typer.Option("--cell", metavar="LENGTH", help="Of the solid's grid.")] = "2 cm",
    no_solid: Annotated[bool, typer.Option("--no-solid", help="Marks only.")] = False,
    as_json: Json = False,
) -> None:
    """Lay a phone's 3D scan into the boat's axes: marks, differences from tape and design, a solid for rays and wind.

    Example: canvas scan boat.toml cockpit.ply --points picked.csv --distance "winch_port winch_stbd 1.85 m" -o out/scan
    """

    def work() -> Any:
        from canvas import verbs
        from canvas.design import asked, units
        from canvas.verbs.capture import direction_asked, distance_asked

        taped = [asked.asked("--distance", one, distance_asked) for one in distance or ()]
        size = asked.asked("--cell", cell, units.length)
        return verbs.scan(
            design,
            file,
            points=points,
            distances=[one for one in taped if one is not None],
            hold=hold,
            up=asked.asked("--up", up, direction_asked),
            cell=None if no_solid else size,
        )

    finish("scan", work, as_json=as_json, save=out)


def photo(
    design: Design,
    photos: Annotated[
        list[Path] | None, typer.Argument(metavar="PHOTOS", help="Photographs or a folder.", show_default=False)
    ] = None,
    out: Annotated[Path, typer.Option("-o", metavar="DIR", help="Folder for the files.", show_default=False)] = ...,  # type: ignore[assignment]
    sheet: Annotated[bool, typer.Option("--sheet", help="Print the targets and how to stick and shoot.")] = False,
    targets: Annotated[
        Path | None,
        typer.Option("--targets", metavar="LIST", help="The list printed with the targets.", show_default=False),
    ] = None,
    size: Annotated[
        str, typer.Option("--size", metavar="LENGTH", help="Of the targets' black squares, with --sheet.")
    ] = "60 mm",
    ties: Annotated[int, typer.Option("--ties", min=0, max=200, help="Targets between the marks, with --sheet.")] = 12,
    paper: Paper = None,
    as_json: Json = False,
) -> None:
    """Take marks from photographs of coded targets, with tape readings in one adjustment; or print the targets.

    Example: canvas photo boat.toml --sheet -o out; canvas photo boat.toml photos --targets out/targets.csv -o out
    """

    def work() -> Any:
        from canvas import verbs
        from canvas.brief.paper import READ_ON
        from canvas.design import asked, units

        if sheet:
            side = asked.asked("--size", size, units.length)
            page = asked.choice_or_none("--paper", paper, READ_ON)
            return verbs.target_sheet(design, paper=page, size=side or 0.06, ties=ties)
        return verbs.photo(design, photos or [], targets=targets)

    finish("photo", work, as_json=as_json, save=out)
