"""The verb that opens the browser viewer.

Computes: nothing; each reads its options and calls the verb of the same name.
Units: as people type them; see `canvas.design.units`.
Source: none.
Limits: heavy imports stand inside the verbs, so that help answers at once.
"""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

import typer


def view(
    design: Annotated[
        Path | None,
        typer.Argument(metavar="[DESIGN]", help="The boat's design file; none starts a new boat.", show_default=False),
    ] = None,
    port: Annotated[
        int, typer.Option("--port", metavar="PORT", min=1, max=65535, help="The next free one where busy.")
    ] = 8137,
    host: Annotated[
        str, typer.Option("--host", metavar="ADDRESS", help="Of this machine on the boat's own network, for a tablet.")
    ] = "127.0.0.1",
    no_browser: Annotated[bool, typer.Option("--no-browser", help="Only say the address.")] = False,
) -> None:
    """See the boat in the browser and shape its canvas.

    Example: canvas view examples/marrowgrass.toml
    """
    asked = [*([] if design is None else [str(design)]), "--port", str(port), "--host", host]
    raise typer.Exit(_view(asked, no_browser=no_browser))


def _view(arguments: list[str], *, no_browser: bool) -> int:
    """Run the viewer as a child, which a drawing library may kill without taking this program along."""
    import subprocess

    with subprocess.Popen(
        [sys.executable, "-m", "viewer", *arguments, *(["--no-browser"] if no_browser else [])]
    ) as child:
        while True:
            try:
                code = child.wait()
                break
            except KeyboardInterrupt:  # the child got it too, and ends by itself
                continue
    if code < 0 and -code not in {2, 15}:
        typer.echo(
            f"The viewer's drawing library ended the viewer (signal {-code}). On a bare Debian install what it needs: "
            "apt install libegl1 libgl1-mesa-dri",
            err=True,
        )
        return 3
    return 130 if code in {-2, -15} else code
