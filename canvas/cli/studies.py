"""The verbs that compare: designs and sets, variants, a passage.

Computes: nothing; each reads its options and calls the verb of the same name.
Units: as people type them; see `canvas.design.units`.
Source: none.
Limits: heavy imports stand inside the verbs, so that help answers at once.
"""

from __future__ import annotations

from contextlib import closing
from pathlib import Path
from typing import Annotated, Any

import typer

from canvas.cli.options import Design, Json, Plots, RainRate, Sets
from canvas.cli.outcome import finish, shown_progress

Varies = Annotated[
    list[str],
    typer.Option("--vary", metavar="TEXT", help='As "marks.tent_aft_port[2] = 1.05 m .. 1.40 m, 8"; may be repeated.'),
]
Workers = Annotated[int, typer.Option("--workers", metavar="N", min=1, max=256, help="Processes on this machine.")]
Costed = Annotated[bool, typer.Option("--cost", help="Cut and price every variant too: about twice as long.")]
Cluster = Annotated[str | None, typer.Option("--cluster", metavar="ADDRESS", help="Of a dask.distributed scheduler.")]
FlowCell = Annotated[
    str | None,
    typer.Option("--flow-cell", metavar="LENGTH", help="Run the flow for a dozen, the ends and the best; finest cell."),
]
FineCell = Annotated[
    str | None, typer.Option("--fine-cell", metavar="LENGTH", help='And again for the best few, such as "4 cm".')
]
FlowAngles = Annotated[
    str | None, typer.Option("--awa", metavar="LIST", help='Their wind angles, as "32, 90"; close-hauled where absent.')
]


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

        return verbs.compare(design, other, sets=sets, progress=shown_progress())

    finish("compare", work, as_json=as_json, plots=plots)


def _pool(workers: int, cluster: str | None) -> Any:
    from canvas.jobs.pool import ClusterPool, HerePool, LocalPool

    if cluster is not None:
        return ClusterPool(cluster)
    return LocalPool(workers) if workers > 1 else HerePool()


def sweep(
    design: Design,
    vary: Varies,
    sets: Sets = None,
    workers: Workers = 2,
    cluster: Cluster = None,
    cost: Costed = False,
    plots: Plots = None,
    as_json: Json = False,
) -> None:
    """Vary one or two numbers of a design and rank what comes of it, roughly and quickly.

    Example: canvas sweep examples/marrowgrass.toml --set "wet watch" --vary "marks.tent_aft_port[2] = 1.1 m .. 1.4 m"
    """

    def work() -> Any:
        from canvas import verbs

        with closing(_pool(workers, cluster)) as pool:
            return verbs.sweep(design, vary=vary, sets=sets, pool=pool, costed=cost, progress=shown_progress())

    finish("sweep", work, as_json=as_json, plots=plots)


def search(
    design: Design,
    vary: Varies,
    set_name: Annotated[str, typer.Option("--set", metavar="NAME", help="The set to better.")],
    out: Annotated[Path | None, typer.Option("-o", metavar="DIR", help="Folder for the designs found.")] = None,
    keep: Annotated[
        float, typer.Option("--keep", min=0, max=1.5, help="Share of the bare boat's wind the vane must keep.")
    ] = 0.85,
    headroom: Annotated[str | None, typer.Option("--headroom", metavar="LENGTH", help="Least under new cloth.")] = None,
    aim: Annotated[list[str] | None, typer.Option("--aim", metavar="MEASURE", help="What to better.")] = None,
    start: Annotated[int, typer.Option("--start", help="Variants a round, a power of two.")] = 16,
    rounds: Annotated[int, typer.Option("--rounds", min=0, max=100, help="Rounds after the first.")] = 4,
    seed: Annotated[int, typer.Option("--seed", min=0, help="The same seed tries the same variants.")] = 0,
    flow_cell: FlowCell = None,
    fine_cell: FineCell = None,
    awa: FlowAngles = None,
    best: Annotated[int, typer.Option("--best", min=1, max=50, help="How many of the front the flow confirms.")] = 3,
    dozen: Annotated[
        int, typer.Option("--dozen", min=0, max=64, help="Space-filling variants that the flow is run for.")
    ] = 12,
    workers: Workers = 2,
    cluster: Cluster = None,
    cost: Costed = False,
    plots: Plots = None,
    as_json: Json = False,
) -> None:
    """Search numbers of a design for the most shade and dry seat from the least cloth, the vane kept in the wind.

    Example: canvas search examples/marrowgrass.toml --set "wet watch" --vary "marks.tent_aft_port[2] = 1.1 m .. 1.4 m"
    """

    def work() -> Any:
        from canvas import verbs
        from canvas.design import asked

        least = asked.asked("--headroom", headroom, asked.clear_height)
        flow = _flow_asked(flow_cell, fine_cell, awa, dozen=dozen, best=best)
        with closing(_pool(workers, cluster)) as pool:
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
                flow=flow,
                costed=cost,
                pool=pool,
                progress=shown_progress(),
            )

    finish("search", work, as_json=as_json, plots=plots, save=out)


def _flow_asked(coarse: str | None, fine: str | None, awa: str | None, *, dozen: int, best: int) -> Any:
    from canvas.design import asked

    if coarse is None:
        for option, text in (("--fine-cell", fine), ("--awa", awa)):
            asked.asked(option, text, _needs_flow)
        return None
    from canvas.study.confirming import FlowAsked
    from canvas.wind.flow.run import COARSE

    return FlowAsked(
        angles=tuple(asked.asked("--awa", awa, asked.angles) or ()),
        coarse=asked.asked("--flow-cell", coarse, asked.cell_size) or COARSE,
        fine=asked.asked("--fine-cell", fine, asked.cell_size),
        seeds=dozen,
        best=best,
    )


def _needs_flow(_: str) -> None:
    raise ValueError("Give --flow-cell 20cm too: without it no flow is run.")


def passage(
    design: Design,
    sets: Sets = None,
    leave: Annotated[
        str | None, typer.Option("--leave", metavar="DAY", help="Day of leaving; else each leg's month.")
    ] = None,
    strike: Annotated[
        str | None,
        typer.Option("--strike", metavar="AWS", help="Struck from this wind; else found by loading each set."),
    ] = None,
    rain_rate: RainRate = None,
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
            progress=shown_progress(),
        )

    finish("passage", work, as_json=as_json, plots=plots)
