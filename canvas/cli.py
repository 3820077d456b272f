"""Run the program from the command line: read options, call the verb of the same name, print.

Computes: nothing; one wrapper turns errors into exit codes 0, 1, 2, 3 and 130.
Units: as people type them; see `canvas.design.units`.
Source: none.
Limits: heavy imports stand inside the verbs, so that help answers at once.
"""

from __future__ import annotations

import io
import json
import os
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Annotated, Any

import typer

from canvas.design.problems import DesignError, Problem
from canvas.jobs.failure import CouldNot, Stopped
from canvas.jobs.progress import Progress

# One thread for linear algebra: small systems go faster, and no answer depends on how many cores a machine has.
for _library in ("OPENBLAS", "OMP", "MKL"):
    os.environ.setdefault(f"{_library}_NUM_THREADS", "1")

app = typer.Typer(
    name="canvas",
    help="Cockpit canvas for a sailing yacht: shade, rain, wind at the vane, loads, flat patterns.",
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
)

Design = Annotated[
    Path, typer.Argument(metavar="DESIGN", help="The boat's design file, such as boat.toml.", show_default=False)
]
Sets = Annotated[list[str] | None, typer.Option("--set", metavar="NAME", help="Only this set; may be given again.")]
Plots = Annotated[Path | None, typer.Option("--plots", metavar="DIR", help="Folder for this verb's pictures.")]
Json = Annotated[bool, typer.Option("--json", help="One JSON object on standard output, nothing else there.")]
Require = Annotated[
    list[str] | None, typer.Option("--require", metavar="NAME", help="Exit 1 unless this check, course or part passes.")
]


def _finish(
    verb: str,
    work: Callable[[], Any],
    *,
    as_json: bool = False,
    plots: Path | None = None,
    require: list[str] | None = None,
    save: Path | None = None,
) -> None:
    """Run a verb, save its files and pictures, print, and end with the exit code that its outcome asks for."""
    try:
        answer = work()
        missed = _missed(answer, require or [])
        if save is not None:
            answer.save(save)
        if plots is not None:
            _draw(answer, plots)
        _show(answer, as_json=as_json)
        if missed:
            typer.echo(f"Not passed: {', '.join(missed)}.", err=True)
        code = 1 if missed else 0
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
        typer.echo(f"Could not be done: {error.strerror or error}. Free some room or choose another place.", err=True)
        code = 3
    except (Stopped, KeyboardInterrupt):
        typer.echo("Stopped.", err=True)
        code = 130
    except Exception as fault:  # noqa: BLE001 - no traceback reaches a user; the fault is ours and is said so
        typer.echo(f"A fault in this program, not in your file: {type(fault).__name__}: {fault}", err=True)
        typer.echo("Please send the design and this line to whoever keeps the program. Nothing was written.", err=True)
        code = 3
    raise typer.Exit(code)


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

    for path in write_pictures(answer, folder):
        typer.echo(f"wrote {path}", err=True)


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


def _progress() -> Progress:
    """Return a progress that draws a line on standard error, or nothing where that is no terminal."""
    if not sys.stderr.isatty():
        return Progress()

    def show(what: str, done: int, total: int) -> None:
        sys.stderr.write(f"\r\033[K{done} of {total}: {what} ..." if done < total else "\r\033[K")
        sys.stderr.flush()

    return Progress(show)


@app.command()
def check(
    design: Design, sets: Sets = None, plots: Plots = None, as_json: Json = False, require: Require = None
) -> None:
    """Read a design, build it, and list all that is missing, odd or impossible.

    Example: canvas check examples/marrowgrass.toml
    """

    def work() -> Any:
        from canvas import verbs

        return verbs.check(design, sets=sets)

    _finish("check", work, as_json=as_json, plots=plots, require=require)


Latitude = Annotated[str | None, typer.Option(metavar="LAT", help='Such as "17.5 S".')]
Longitude = Annotated[str | None, typer.Option(metavar="LON", help='Such as "149 W".')]


@app.command()
def shade(
    design: Design,
    sets: Sets = None,
    latitude: Latitude = None,
    longitude: Longitude = None,
    at: Annotated[
        str | None, typer.Option(metavar="TIME", help="One time with its zone: 2026-12-21T12:00-10:00.")
    ] = None,
    day: Annotated[str | None, typer.Option(metavar="DAY", help="One day, with --sun-time.")] = None,
    sun_time: Annotated[
        str | None, typer.Option(metavar="HH:MM", help="Apparent solar time; 12:00 is local noon.")
    ] = None,
    first: Annotated[str | None, typer.Option("--from", metavar="DAY", help="First day of a span.")] = None,
    last: Annotated[str | None, typer.Option("--to", metavar="DAY", help="Last day of a span.")] = None,
    latitudes: Annotated[str | None, typer.Option(metavar="LIST", help='Of a span, such as "10 N, 17.5 S".')] = None,
    heading: Annotated[str | None, typer.Option(metavar="DEG", help="Clockwise from true north.")] = None,
    wind_from: Annotated[str | None, typer.Option(metavar="DEG", help="At anchor: swinging to this wind.")] = None,
    heel: Annotated[str | None, typer.Option(metavar="DEG", help="Positive starboard side down.")] = None,
    plots: Plots = None,
    as_json: Json = False,
) -> None:
    """Say what share of each place is out of the sun, at one time or over days and latitudes.

    Example: canvas shade examples/marrowgrass.toml --latitude "17.5 S" --day 2026-12-21 --sun-time 15:00 --heading 90
    """

    def work() -> Any:
        from canvas import verbs
        from canvas.design import asked, units

        return verbs.shade(
            design,
            sets=sets,
            latitude=asked.asked("--latitude", latitude, units.latitude),
            longitude=asked.asked("--longitude", longitude, units.longitude) or 0.0,
            at=asked.asked("--at", at, asked.instant),
            day=asked.asked("--day", day, asked.calendar_day),
            sun_time=asked.asked("--sun-time", sun_time, asked.clock_time),
            first=asked.asked("--from", first, asked.calendar_day),
            last=asked.asked("--to", last, asked.calendar_day),
            latitudes=asked.asked("--latitudes", latitudes, asked.latitudes),
            heading=asked.asked("--heading", heading, asked.bearing),
            wind_from=asked.asked("--wind-from", wind_from, asked.bearing),
            heel=asked.asked("--heel", heel, asked.angle) or 0.0,
        )

    _finish("shade", work, as_json=as_json, plots=plots)


@app.command()
def vane(
    design: Design,
    sets: Sets = None,
    method: Annotated[
        str, typer.Option(metavar="METHOD", help="sector: line of sight; wake: an estimate; flow: the air solved.")
    ] = "sector",
    awa: Annotated[str | None, typer.Option(metavar="LIST", help='Apparent wind angles, such as "0, 30, -30".')] = None,
    heel: Annotated[str | None, typer.Option(metavar="DEG", help="Positive starboard side down.")] = None,
    cell: Annotated[str | None, typer.Option(metavar="LENGTH", help='Finest cell of the flow, such as "8 cm".')] = None,
    cures: Annotated[
        bool, typer.Option("--cures", help="With flow: what each panel and thing costs; blade higher; bearing away.")
    ] = False,
    arrays: Annotated[
        Path | None, typer.Option(metavar="DIR", help="With flow: save slices, streamlines, pressures as arrays.")
    ] = None,
    plots: Plots = None,
    as_json: Json = False,
    require: Require = None,
) -> None:
    """Say what wind reaches the vane's air blade, by apparent wind angle and course.

    Example: canvas vane examples/marrowgrass.toml --method sector
    """

    def work() -> Any:
        from canvas import verbs
        from canvas.design import asked

        start = time.monotonic()
        answer = verbs.vane(
            design,
            method=asked.choice("--method", method, ("sector", "wake", "flow")),
            sets=sets,
            awa=asked.asked("--awa", awa, asked.angles),
            heel=asked.asked("--heel", heel, asked.angle) or 0.0,
            cell=asked.asked("--cell", cell, asked.cell_size),
            cures=cures,
            progress=_progress(),
        )
        if answer.top == "flow":
            done = max(found.updates for found in answer.results.values())
            seconds = time.monotonic() - start
            typer.echo(f"{done / 1e6:.0f} million lattice updates in {seconds:.0f} s", err=True)
        return answer

    _finish("vane", work, as_json=as_json, plots=plots, require=require, save=arrays)


Folder = Annotated[Path, typer.Option("-o", metavar="DIR", help="Folder for the files.", show_default=False)]


@app.command()
def cut(
    design: Design,
    out: Folder,
    sets: Sets = None,
    trial: Annotated[bool, typer.Option("--trial", help="A trial piece: margins left on, lines to trim to.")] = False,
    against: Annotated[
        Path | None,
        typer.Option(metavar="DIR", help="Folder of an earlier cut: draw what changed.", show_default=False),
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

    _finish("cut", work, as_json=as_json, plots=plots, require=require, save=out)


@app.command()
def buy(
    design: Design,
    sets: Sets = None,
    rate: Annotated[float | None, typer.Option(metavar="MONEY", min=0.01, help="Of an hour in the shop.")] = None,
    plots: Plots = None,
    as_json: Json = False,
) -> None:
    """Count cloth, zips, fastenings, thread, labour, weight and cost of the new panels.

    Example: canvas buy examples/marrowgrass.toml --rate 60
    """

    def work() -> Any:
        from canvas import verbs

        return verbs.buy(design, sets=sets, rate=rate)

    _finish("buy", work, as_json=as_json, plots=plots)


@app.command()
def life(
    design: Design,
    sets: Sets = None,
    latitude: Latitude = None,
    plots: Plots = None,
    as_json: Json = False,
) -> None:
    """Say how much ultraviolet the new sewing gets, when to sew it again, and what is worth a cover.

    Example: canvas life examples/marrowgrass.toml --latitude "15 N"
    """

    def work() -> Any:
        from canvas import verbs
        from canvas.design import asked, units

        where = asked.asked("--latitude", latitude, units.latitude)
        return verbs.life(design, sets=sets, latitude=where, progress=_progress())

    _finish("life", work, as_json=as_json, plots=plots)


@app.command()
def report(design: Design, out: Folder, sets: Sets = None, as_json: Json = False) -> None:
    """Answer everything for every set on one page that opens offline, with the cut files beside it.

    Example: canvas report examples/marrowgrass.toml -o out/marrowgrass
    """

    def work() -> Any:
        from canvas import verbs

        return verbs.report(design, sets=sets, progress=_progress())

    _finish("report", work, as_json=as_json, save=out)


@app.command()
def fit(design: Design, sets: Sets = None, plots: Plots = None, as_json: Json = False, require: Require = None) -> None:
    """Check headroom, look-out, winches, boom, ways out and handling of every set.

    Example: canvas fit examples/marrowgrass.toml --set "wet watch"
    """

    def work() -> Any:
        from canvas import verbs

        return verbs.fit(design, sets=sets, progress=_progress())

    _finish("fit", work, as_json=as_json, plots=plots, require=require)


@app.command()
def loads(
    design: Design,
    sets: Sets = None,
    aws: Annotated[
        str | None, typer.Option(metavar="WIND", help="Mean wind at the instrument, gusts on top; 25 kn.")
    ] = None,
    plots: Plots = None,
    as_json: Json = False,
    require: Require = None,
) -> None:
    """Say what each part carries in a wind, which goes first, and when to strike; and what water the roofs hold.

    Example: canvas loads examples/marrowgrass.toml --aws "30 kn"
    """

    def work() -> Any:
        from canvas import verbs
        from canvas.design import asked

        wind = asked.asked("--aws", aws, asked.wind_speed)
        given = {} if wind is None else {"aws": wind}
        return verbs.loads(design, sets=sets, progress=_progress(), **given)

    _finish("loads", work, as_json=as_json, plots=plots, require=require)


@app.command()
def rain(
    design: Design,
    sets: Sets = None,
    aws: Annotated[
        str | None, typer.Option(metavar="LIST", help='Winds at the instrument, such as "10, 20 kn".')
    ] = None,
    rain_rate: Annotated[float | None, typer.Option("--rain-rate", metavar="MM/H", min=0.1, max=300)] = None,
    plots: Plots = None,
    as_json: Json = False,
) -> None:
    """Say what share of each place driving rain wets, by apparent wind angle and speed.

    Example: canvas rain examples/marrowgrass.toml --set "wet watch" --aws "20 kn"
    """

    def work() -> Any:
        from canvas import verbs
        from canvas.design import asked

        winds = asked.asked("--aws", aws, asked.wind_speeds)
        return verbs.rain(design, sets=sets, aws=winds, rate=rain_rate, progress=_progress())

    _finish("rain", work, as_json=as_json, plots=plots)


File = Annotated[Path, typer.Option("-o", metavar="FILE", help="The PDF to write.", show_default=False)]
Paper = Annotated[str, typer.Option(metavar="SIZE", help="A4 or Letter.")]
Units = Annotated[str | None, typer.Option(metavar="UNIT", help="m, mm, ft or in; the design's own where absent.")]


@app.command()
def sheet(design: Design, out: File, paper: Paper = "A4", units: Units = None, as_json: Json = False) -> None:
    """Plan what to measure and write the sheet to measure with.

    Example: canvas sheet examples/oddfellow.toml -o out/measure.pdf
    """

    def work() -> Any:
        from canvas import verbs
        from canvas.design import asked

        size = asked.choice("--paper", paper, ("A4", "Letter"))
        unit = None if units is None else asked.choice("--units", units, ("m", "mm", "ft", "in"))
        return verbs.sheet(design, paper=size, units=unit, name=out.name)

    _finish("sheet", work, as_json=as_json, save=out.parent)


@app.command()
def mockup(
    design: Design, out: File, sets: Sets = None, paper: Paper = "A4", units: Units = None, as_json: Json = False
) -> None:
    """Write the sheet from which two people rig a set in cord and old cloth.

    Example: canvas mockup examples/marrowgrass.toml --set "wet watch" -o out/mockup.pdf
    """

    def work() -> Any:
        from canvas import verbs
        from canvas.design import asked

        size = asked.choice("--paper", paper, ("A4", "Letter"))
        unit = None if units is None else asked.choice("--units", units, ("m", "mm", "ft", "in"))
        return verbs.mockup(design, sets=sets, paper=size, units=unit, name=out.name)

    _finish("mockup", work, as_json=as_json, save=out.parent)


@app.command()
def brief(design: Design, out: File, paper: Paper = "A4", units: Units = None, as_json: Json = False) -> None:
    """Write the maker's brief: drawings, schedules, what is final and what is fitted on board, acceptance checks.

    Example: canvas brief examples/marrowgrass.toml -o out/brief.pdf
    """

    def work() -> Any:
        from canvas import verbs
        from canvas.design import asked

        size = asked.choice("--paper", paper, ("A4", "Letter"))
        unit = None if units is None else asked.choice("--units", units, ("m", "mm", "ft", "in"))
        return verbs.brief(design, paper=size, units=unit, name=out.name, progress=_progress())

    _finish("brief", work, as_json=as_json, save=out.parent)


@app.command()
def new(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="The design file to start.", show_default=False)],
    like: Annotated[str | None, typer.Option(metavar="EXAMPLE", help="Start from an example under a new name.")] = None,
) -> None:
    """Start a design of one's own boat from some twenty answers, drawn as you go.

    Example: canvas new boat.toml
    """

    def work() -> Any:
        from canvas import verbs

        return verbs.new(file, like=like, ask=_ask, show=typer.echo)

    _finish("new", work)


def _ask(prompt: str) -> str:
    typer.echo(prompt, nl=False)
    line = sys.stdin.readline()
    if not line:
        raise EOFError
    return line.rstrip("\n")


@app.command()
def survey(design: Design, plots: Plots = None, as_json: Json = False) -> None:
    """Adjust the readings to marks, say how well each is known, and name the readings most likely wrong.

    Example: canvas survey examples/oddfellow.toml
    """

    def work() -> Any:
        from canvas import verbs

        return verbs.survey(design)

    _finish("survey", work, as_json=as_json, plots=plots)


@app.command()
def passage(
    design: Design,
    sets: Sets = None,
    leave: Annotated[str | None, typer.Option(metavar="DAY", help="Day of leaving; else each leg's month.")] = None,
    strike: Annotated[
        str | None, typer.Option(metavar="AWS", help="Struck from this wind; else found by loading each set.")
    ] = None,
    rain_rate: Annotated[float | None, typer.Option("--rain-rate", metavar="MM/H", min=0.1, max=300)] = None,
    plots: Plots = None,
    as_json: Json = False,
) -> None:
    """Add up the passage: hours of shade, low sun, rain that reaches, the vane's wind, striking, ultraviolet.

    Example: canvas passage examples/marrowgrass.toml --set shade --strike "25 kn"
    """

    def work() -> Any:
        from canvas import verbs
        from canvas.design import asked

        return verbs.passage(
            design,
            sets=sets,
            leave=asked.asked("--leave", leave, asked.calendar_day),
            strike=asked.asked("--strike", strike, asked.wind_speed),
            rate=rain_rate,
            progress=_progress(),
        )

    _finish("passage", work, as_json=as_json, plots=plots)


@app.command()
def view(
    design: Annotated[
        Path | None,
        typer.Argument(metavar="[DESIGN]", help="The boat's design file; none starts a new boat.", show_default=False),
    ] = None,
    port: Annotated[int, typer.Option(metavar="PORT", min=1, max=65535, help="The next free one where busy.")] = 8137,
    host: Annotated[
        str, typer.Option(metavar="ADDRESS", help="Of this machine on the boat's own network, for a tablet.")
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


@app.command()
def compare(
    design: Design,
    other: Annotated[
        Path | None, typer.Argument(metavar="OTHER", help="Another design or revision.", show_default=False)
    ] = None,
    sets: Sets = None,
    plots: Plots = None,
    as_json: Json = False,
) -> None:
    """Put two designs, or the sets of one, side by side: what changed, better and worse, which piece to make first.

    Example: canvas compare examples/marrowgrass.toml --set "hood and bimini" --set shade --set "wet watch"
    """

    def work() -> Any:
        from canvas import verbs

        return verbs.compare(design, other, sets=sets, progress=_progress())

    _finish("compare", work, as_json=as_json, plots=plots)


Varies = Annotated[
    list[str],
    typer.Option("--vary", metavar="TEXT", help='As "marks.tent_aft_port[2] = 1.05 m .. 1.40 m, 8"; may be repeated.'),
]
Workers = Annotated[int, typer.Option(metavar="N", min=1, max=256, help="Processes on this machine.")]
Cluster = Annotated[str | None, typer.Option(metavar="ADDRESS", help="Of a dask.distributed scheduler.")]


def _pool(workers: int, cluster: str | None) -> Any:
    from canvas.jobs.pool import ClusterPool, HerePool, LocalPool

    if cluster is not None:
        return ClusterPool(cluster)
    return LocalPool(workers) if workers > 1 else HerePool()


@app.command()
def sweep(
    design: Design,
    vary: Varies,
    sets: Sets = None,
    workers: Workers = 2,
    cluster: Cluster = None,
    plots: Plots = None,
    as_json: Json = False,
) -> None:
    """Vary one or two numbers of a design and rank what comes of it, roughly and quickly.

    Example: canvas sweep examples/marrowgrass.toml --set "wet watch" --vary "marks.tent_aft_port[2] = 1.1 m .. 1.4 m"
    """

    def work() -> Any:
        from canvas import verbs

        pool = _pool(workers, cluster)
        try:
            return verbs.sweep(design, vary=vary, sets=sets, pool=pool, progress=_progress())
        finally:
            pool.close()

    _finish("sweep", work, as_json=as_json, plots=plots)


@app.command()
def search(
    design: Design,
    vary: Varies,
    set_name: Annotated[str, typer.Option("--set", metavar="NAME", help="The set to better.")],
    out: Annotated[Path | None, typer.Option("-o", metavar="DIR", help="Folder for the designs found.")] = None,
    keep: Annotated[
        float, typer.Option("--keep", min=0, max=1.5, help="Share of the bare boat's wind the vane must keep.")
    ] = 0.85,
    headroom: Annotated[str | None, typer.Option(metavar="LENGTH", help="Least under new cloth.")] = None,
    aim: Annotated[list[str] | None, typer.Option("--aim", metavar="MEASURE", help="What to better.")] = None,
    start: Annotated[int, typer.Option(help="Variants a round, a power of two.")] = 16,
    rounds: Annotated[int, typer.Option(min=0, max=100, help="Rounds after the first.")] = 4,
    seed: Annotated[int, typer.Option(min=0, help="The same seed tries the same variants.")] = 0,
    workers: Workers = 2,
    cluster: Cluster = None,
    plots: Plots = None,
    as_json: Json = False,
) -> None:
    """Search numbers of a design for the most shade and dry seat from the least cloth, the vane kept in the wind.

    Example: canvas search examples/marrowgrass.toml --set "wet watch" --vary "marks.tent_aft_port[2] = 1.1 m .. 1.4 m"
    """

    def work() -> Any:
        from canvas import verbs
        from canvas.design import asked, units

        least = asked.asked("--headroom", headroom, units.length)
        pool = _pool(workers, cluster)
        try:
            return verbs.search(
                design,
                vary=vary,
                set_name=set_name,
                least_speed_ratio=keep,
                least_headroom=least,
                aims=tuple(aim) if aim else ("shade_share", "dry_share", "cloth_m2"),
                start=start,
                rounds=rounds,
                seed=seed,
                pool=pool,
                progress=_progress(),
            )
        finally:
            pool.close()

    _finish("search", work, as_json=as_json, plots=plots, save=out)


@app.command()
def scan(
    design: Design,
    file: Annotated[Path, typer.Argument(metavar="FILE", help="The scan: PLY, OBJ, GLB or STL.", show_default=False)],
    out: Folder,
    points: Annotated[
        Path, typer.Option(metavar="FILE", help="Picked points: CSV name, x, y, z, on; or TOML.", show_default=False)
    ],
    distance: Annotated[
        list[str] | None, typer.Option(metavar="TEXT", help='Taped: "winch_port winch_stbd 1.85 m"; may be repeated.')
    ] = None,
    hold: Annotated[
        list[str] | None, typer.Option(metavar="MARK", help="Lay the scan on this mark's coordinates; repeat.")
    ] = None,
    up: Annotated[
        str | None, typer.Option(metavar="AXIS", help='Up in the scan, boat at rest: "y", "-z" or three numbers.')
    ] = None,
    cell: Annotated[str, typer.Option(metavar="LENGTH", help="Of the solid's grid.")] = "2 cm",
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

    _finish("scan", work, as_json=as_json, save=out)


@app.command()
def photo(
    design: Design,
    photos: Annotated[
        list[Path] | None, typer.Argument(metavar="PHOTOS", help="Photographs or a folder.", show_default=False)
    ] = None,
    out: Annotated[Path, typer.Option("-o", metavar="DIR", help="Folder for the files.", show_default=False)] = ...,  # type: ignore[assignment]
    sheet: Annotated[bool, typer.Option("--sheet", help="Print the targets and how to stick and shoot.")] = False,
    targets: Annotated[
        Path | None, typer.Option(metavar="LIST", help="The list printed with the targets.", show_default=False)
    ] = None,
    size: Annotated[str, typer.Option(metavar="LENGTH", help="Of the targets' black squares, with --sheet.")] = "60 mm",
    ties: Annotated[int, typer.Option(min=0, max=200, help="Targets between the marks, with --sheet.")] = 12,
    paper: Paper = "A4",
    as_json: Json = False,
) -> None:
    """Take marks from photographs of coded targets, with tape readings in one adjustment; or print the targets.

    Example: canvas photo boat.toml --sheet -o out; canvas photo boat.toml photos --targets out/targets.csv -o out
    """

    def work() -> Any:
        from canvas import verbs
        from canvas.design import asked, units

        if sheet:
            side = asked.asked("--size", size, units.length)
            page = asked.choice("--paper", paper, ("A4", "Letter"))
            return verbs.target_sheet(design, paper=page, size=side or 0.06, ties=ties)
        return verbs.photo(design, photos or [], targets=targets)

    _finish("photo", work, as_json=as_json, save=out)


@app.command()
def case(
    design: Design,
    out: Annotated[Path | None, typer.Option("-o", metavar="DIR", help="Folder for the cases.")] = None,
    read: Annotated[Path | None, typer.Option("--read", metavar="DIR", help="Read back cases that were run.")] = None,
    sets: Sets = None,
    awa: Annotated[str, typer.Option(metavar="LIST", help='Apparent wind angles, such as "32, 90".')] = "32",
    heel: Annotated[str | None, typer.Option(metavar="DEG", help="Positive starboard side down.")] = None,
    cell: Annotated[str, typer.Option(metavar="LENGTH", help="Finest cell.")] = "6 cm",
    steps: Annotated[int, typer.Option(min=10, max=100_000, help="Of the steady solver.")] = 800,
    as_json: Json = False,
) -> None:
    """Write the boat as ready OpenFOAM cases for a bigger machine, or read their result back into the vane's table.

    Example: canvas case examples/marrowgrass.toml --set "wet watch" --awa 32 -o out/case
    """

    def work() -> Any:
        from canvas import verbs
        from canvas.design import asked, units

        if read is not None:
            return verbs.read_case(design, read)
        if out is None:
            raise DesignError([Problem(code="wrong-option", key="-o", found="no folder", wanted="Give -o or --read.")])
        return verbs.case(
            design,
            awa=asked.asked("--awa", awa, asked.angles) or (),
            sets=sets,
            heel=asked.asked("--heel", heel, asked.angle) or 0.0,
            cell=asked.asked("--cell", cell, units.length) or 0.06,
            steps=steps,
        )

    _finish("case", work, as_json=as_json, save=out)


def main() -> None:
    """Run the command line; what a terminal cannot show is replaced, not refused."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")
    app()


if __name__ == "__main__":
    main()
