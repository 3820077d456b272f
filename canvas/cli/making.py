"""The verbs for whoever makes the canvas: mock up, cut, buy, brief.

Computes: nothing; each reads its options and calls the verb of the same name.
Units: as people type them; see `canvas.design.units`.
Source: none.
Limits: heavy imports stand inside the verbs, so that help answers at once.
"""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

import typer

from canvas.cli.options import Design, File, Folder, Json, Paper, Plots, Require, Sets, Units
from canvas.cli.outcome import finish, shown_progress


def mockup(
    design: Design, out: File, sets: Sets = None, paper: Paper = None, units: Units = None, as_json: Json = False
) -> None:
    """Write the sheet from which two people rig a set in cord and old cloth.

    Example: canvas mockup examples/marrowgrass.toml --set "wet watch" -o out/mockup.pdf
    """

    def work() -> Any:
        from canvas import verbs
        from canvas.brief.paper import READ_ON
        from canvas.design import asked

        size = asked.choice_or_none("--paper", paper, READ_ON)
        unit = asked.choice_or_none("--units", units, ("m", "mm", "ft", "in"))
        return verbs.mockup(design, sets=sets, paper=size, units=unit, name=out.name)

    finish("mockup", work, as_json=as_json, save=out.parent)


def cut(
    design: Design,
    out: Folder,
    sets: Sets = None,
    trial: Annotated[bool, typer.Option("--trial", help="A trial piece: margins left on, lines to trim to.")] = False,
    against: Annotated[
        Path | None,
        typer.Option(
            "--against", metavar="DIR", help="Folder of an earlier cut: draw what changed.", show_default=False
        ),
    ] = None,
    better_nest: Annotated[
        bool, typer.Option("--better-nest", help="Nest closer; layouts are kept beside the design.")
    ] = False,
    plots: Plots = None,
    as_json: Json = False,
    require: Require = None,
) -> None:
    """Cut every new panel: flat parts with allowances, marks and labels, as DXF, SVG and pages at 1:1.

    Example: canvas cut examples/marrowgrass.toml -o out/cut
    """

    def work() -> Any:
        from canvas import verbs

        nests = Path(design).parent / "nests" if better_nest else None
        return verbs.cut(design, sets=sets, trial=trial, against=against, better_nest=nests)

    finish("cut", work, as_json=as_json, plots=plots, require=require, save=out)


def buy(
    design: Design,
    sets: Sets = None,
    rate: Annotated[
        float | None, typer.Option("--rate", metavar="MONEY", min=0.01, max=1e7, help="Of an hour in the shop.")
    ] = None,
    plots: Plots = None,
    as_json: Json = False,
) -> None:
    """Count cloth, zips, fastenings, thread, labour, weight and cost of the new panels.

    Example: canvas buy examples/marrowgrass.toml --rate 60
    """

    def work() -> Any:
        from canvas import verbs

        return verbs.buy(design, sets=sets, rate=rate)

    finish("buy", work, as_json=as_json, plots=plots)


def brief(design: Design, out: File, paper: Paper = None, units: Units = None, as_json: Json = False) -> None:
    """Write the maker's brief: drawings, schedules, what is final and what is fitted on board, acceptance checks.

    Example: canvas brief examples/marrowgrass.toml -o out/brief.pdf
    """

    def work() -> Any:
        from canvas import verbs
        from canvas.brief.paper import READ_ON
        from canvas.design import asked

        size = asked.choice_or_none("--paper", paper, READ_ON)
        unit = asked.choice_or_none("--units", units, ("m", "mm", "ft", "in"))
        return verbs.brief(design, paper=size, units=unit, name=out.name, progress=shown_progress())

    finish("brief", work, as_json=as_json, save=out.parent)
