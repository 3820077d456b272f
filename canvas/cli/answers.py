"""The verbs that answer about a design: sun, rain, wind at the vane, loads, fit, sewn life, the report.

Computes: nothing; each reads its options and calls the verb of the same name.
Units: as people type them; see `canvas.design.units`.
Source: none.
Limits: heavy imports stand inside the verbs, so that help answers at once.
"""

from __future__ import annotations

import time
from pathlib import Path
from typing import Annotated, Any

import typer

from canvas.cli.options import Design, Folder, Json, Latitude, Longitude, Plots, RainRate, Require, Sets
from canvas.cli.outcome import finish, shown_progress
from canvas.design.problems import DesignError, Problem


def shade(
    design: Design,
    sets: Sets = None,
    latitude: Latitude = None,
    longitude: Longitude = None,
    at: Annotated[
        str | None, typer.Option("--at", metavar="TIME", help="One time with its zone: 2026-12-21T12:00-10:00.")
    ] = None,
    day: Annotated[str | None, typer.Option("--day", metavar="DAY", help="One day, with --sun-time.")] = None,
    sun_time: Annotated[
        str | None, typer.Option("--sun-time", metavar="HH:MM", help="Apparent solar time; 12:00 is local noon.")
    ] = None,
    first: Annotated[str | None, typer.Option("--from", metavar="DAY", help="First day of a span.")] = None,
    last: Annotated[str | None, typer.Option("--to", metavar="DAY", help="Last day of a span.")] = None,
    latitudes: Annotated[
        str | None, typer.Option("--latitudes", metavar="LIST", help='Of a span, such as "10 N, 17.5 S".')
    ] = None,
    heading: Annotated[str | None, typer.Option("--heading", metavar="DEG", help="Clockwise from true north.")] = None,
    wind_from: Annotated[
        str | None, typer.Option("--wind-from", metavar="DEG", help="At anchor: swinging to this wind.")
    ] = None,
    heel: Annotated[str | None, typer.Option("--heel", metavar="DEG", help="Positive starboard side down.")] = None,
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

    finish("shade", work, as_json=as_json, plots=plots)


def rain(
    design: Design,
    sets: Sets = None,
    aws: Annotated[
        str | None, typer.Option("--aws", metavar="LIST", help='Winds at the instrument, such as "10, 20 kn".')
    ] = None,
    rain_rate: RainRate = None,
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
        return verbs.rain(design, sets=sets, aws=winds, rate=rain_rate, progress=shown_progress())

    finish("rain", work, as_json=as_json, plots=plots)


def vane(
    design: Design,
    sets: Sets = None,
    method: Annotated[
        str,
        typer.Option(
            "--method", metavar="METHOD", help="sector: line of sight; wake: an estimate; flow: the air solved."
        ),
    ] = "sector",
    awa: Annotated[
        str | None, typer.Option("--awa", metavar="LIST", help='Apparent wind angles, such as "0, 30, -30".')
    ] = None,
    heel: Annotated[str | None, typer.Option("--heel", metavar="DEG", help="Positive starboard side down.")] = None,
    cell: Annotated[
        str | None, typer.Option("--cell", metavar="LENGTH", help='Finest cell of the flow, such as "8 cm".')
    ] = None,
    device: Annotated[
        str, typer.Option("--device", metavar="WHERE", help="Where the flow runs: auto, cpu, card (a graphics card).")
    ] = "auto",
    cures: Annotated[
        bool, typer.Option("--cures", help="With flow: what each panel and thing costs; blade higher; bearing away.")
    ] = False,
    arrays: Annotated[
        Path | None,
        typer.Option("--arrays", metavar="DIR", help="With flow: save slices, streamlines, pressures as arrays."),
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
            device=asked.choice("--device", device, ("auto", "cpu", "card")),
            progress=shown_progress(),
        )
        if answer.top == "flow":
            done = max(found.updates for found in answer.results.values())
            seconds = time.monotonic() - start
            where = {"cpu": "the processor", "card": "the graphics card"}[answer.record()["device"]]
            typer.echo(f"{done / 1e6:.0f} million lattice updates in {seconds:.0f} s on {where}", err=True)
        return answer

    finish("vane", work, as_json=as_json, plots=plots, require=require, save=arrays)


def case(
    design: Design,
    out: Annotated[Path | None, typer.Option("-o", metavar="DIR", help="Folder for the cases.")] = None,
    read: Annotated[Path | None, typer.Option("--read", metavar="DIR", help="Read back cases that were run.")] = None,
    own_flow: Annotated[
        bool, typer.Option("--own-flow", help="With --read: run the program's own flow on the same parts beside it.")
    ] = False,
    sets: Sets = None,
    awa: Annotated[str, typer.Option("--awa", metavar="LIST", help='Apparent wind angles, such as "32, 90".')] = "32",
    heel: Annotated[str | None, typer.Option("--heel", metavar="DEG", help="Positive starboard side down.")] = None,
    cell: Annotated[str, typer.Option("--cell", metavar="LENGTH", help="Finest cell.")] = "6 cm",
    steps: Annotated[int, typer.Option("--steps", min=10, max=100_000, help="Of the steady solver.")] = 800,
    as_json: Json = False,
) -> None:
    """Write the boat as ready OpenFOAM cases for a bigger machine, or read their result back into the vane's table.

    Example: canvas case examples/marrowgrass.toml --set "wet watch" --awa 32 -o out/case
    """

    def work() -> Any:
        from canvas import verbs
        from canvas.design import asked, units

        if read is not None:
            return verbs.read_case(design, read, own_flow=own_flow, progress=shown_progress())
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

    finish("case", work, as_json=as_json, save=out)


def loads(
    design: Design,
    sets: Sets = None,
    aws: Annotated[
        str | None, typer.Option("--aws", metavar="WIND", help="Mean wind at the instrument, gusts on top; 25 kn.")
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
        return verbs.loads(design, sets=sets, progress=shown_progress(), **given)

    finish("loads", work, as_json=as_json, plots=plots, require=require)


def fit(design: Design, sets: Sets = None, plots: Plots = None, as_json: Json = False, require: Require = None) -> None:
    """Check headroom, look-out, winches, boom, ways out and handling of every set.

    Example: canvas fit examples/marrowgrass.toml --set "wet watch"
    """

    def work() -> Any:
        from canvas import verbs

        return verbs.fit(design, sets=sets, progress=shown_progress())

    finish("fit", work, as_json=as_json, plots=plots, require=require)


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
        return verbs.life(design, sets=sets, latitude=where, progress=shown_progress())

    finish("life", work, as_json=as_json, plots=plots)


def report(design: Design, out: Folder, sets: Sets = None, as_json: Json = False) -> None:
    """Answer everything for every set on one page that opens offline, with the cut files beside it.

    Example: canvas report examples/marrowgrass.toml -o out/marrowgrass
    """

    def work() -> Any:
        from canvas import verbs
        from canvas.jobs.pool import cores

        return verbs.report(design, sets=sets, cores=cores(), progress=shown_progress())

    finish("report", work, as_json=as_json, save=out)
