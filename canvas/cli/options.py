"""Options that several verbs share, each with one help text.

Computes: nothing; types that the command line reads.
Units: as people type them; see `canvas.design.units`.
Source: none.
Limits: an option of one verb alone stands with that verb.
"""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

Design = Annotated[
    Path, typer.Argument(metavar="DESIGN", help="The boat's design file, such as boat.toml.", show_default=False)
]
Sets = Annotated[list[str] | None, typer.Option("--set", metavar="NAME", help="Only this set; may be given again.")]
Plots = Annotated[Path | None, typer.Option("--plots", metavar="DIR", help="Folder for this verb's pictures.")]
Json = Annotated[bool, typer.Option("--json", help="One JSON object on standard output, nothing else there.")]
Require = Annotated[
    list[str] | None, typer.Option("--require", metavar="NAME", help="Exit 1 unless this check, course or part passes.")
]
RainRate = Annotated[
    float | None,
    typer.Option("--rain-rate", metavar="MM/H", min=0.1, max=300, help="How hard it rains; heavy rain where absent."),
]
Latitude = Annotated[str | None, typer.Option("--latitude", metavar="LAT", help='Such as "17.5 S".')]
Longitude = Annotated[str | None, typer.Option("--longitude", metavar="LON", help='Such as "149 W".')]
Folder = Annotated[Path, typer.Option("-o", metavar="DIR", help="Folder for the files.", show_default=False)]
File = Annotated[Path, typer.Option("-o", metavar="FILE", help="The PDF to write.", show_default=False)]
Paper = Annotated[
    str | None, typer.Option("--paper", metavar="SIZE", help="A4 or Letter; the design's own, of [shop], where absent.")
]
Units = Annotated[
    str | None, typer.Option("--units", metavar="UNIT", help="m, mm, ft or in; the design's own where absent.")
]
