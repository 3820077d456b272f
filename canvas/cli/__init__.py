"""Run the program from the command line: read options, call the verb of the same name, print.

Computes: nothing; the order of the verbs in `canvas --help` is the order of `VERBS`.
Units: as people type them; see `canvas.design.units`.
Source: none.
Limits: heavy imports stand inside the verbs, so that help answers at once.
"""

from __future__ import annotations

import atexit
import gc
import io
import os
import sys

import typer

from canvas.cli import answers, boat, making, studies, viewing

# One thread for linear algebra: small systems go faster, and no answer depends on how many cores a machine has.
for _library in ("OPENBLAS", "OMP", "MKL"):
    os.environ.setdefault(f"{_library}_NUM_THREADS", "1")

# Objects that hold each other are looked for every so many new ones: Python's own 700 costs a short verb a tenth.
gc.set_threshold(100_000)
atexit.register(gc.freeze)  # nor are they looked for at the end, when all is given back anyway: a tenth of a second

app = typer.Typer(
    name="canvas",
    help="Cockpit canvas for a sailing yacht: shade, rain, wind at the vane, loads, flat patterns.",
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
)

VERBS = (
    boat.check,
    answers.shade,
    answers.vane,
    making.cut,
    making.buy,
    answers.life,
    answers.report,
    answers.fit,
    answers.loads,
    answers.rain,
    boat.sheet,
    making.mockup,
    making.brief,
    boat.new,
    boat.survey,
    studies.passage,
    viewing.view,
    studies.compare,
    studies.sweep,
    studies.search,
    boat.scan,
    boat.photo,
    answers.case,
)
for _verb in VERBS:
    app.command()(_verb)


def main() -> None:
    """Run the command line; what a terminal cannot show is replaced, not refused."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")
    app()
