"""Write the records of `cut` and `buy`.

Computes: nothing; picks from results.
Units: as the keys end.
Source: none.
Limits: a panel stands in its home set only, so sums over sets are totals.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from canvas.brief.records import Record, envelope

if TYPE_CHECKING:
    from canvas.brief.answer import Answer
    from canvas.cutting.changes import Changes
    from canvas.cutting.result import CutDart, CutResult, RollLayout
    from canvas.materials.cost import Bill
    from canvas.materials.takeoff import TakeOff

FITS = {"final": "final", "long": "long", "on board": "patterned on board"}
NOTHING: Record = {
    "sentence": "Nothing new to buy: no new panel has its home set here.",
    "cloth": [],
    "zips": [],
    "goods": [],
    "panels": [],
    "thread_m": 0.0,
    "sewing_m": 0.0,
    "mass_kg": 0.0,
    "labour": [],
    "materials_cost": 0.0,
    "unpriced": [],
    "hours_low": 0.0,
    "hours_high": 0.0,
    "total_low": 0.0,
    "total_high": 0.0,
}  # a set that brings no new panel adds nothing to any sum


CARRIES_NOTHING: Record = {"spares": [], "aloft": [], "aloft_kg": 0.0, "aloft_moment_kgm": 0.0}


def cut_record(answer: Answer, *, changes: Changes | None = None) -> Record:
    """Return the record of `cut`: parts, seams, edges, rolls, and what changed since an earlier cut."""
    sets = {name: _cut_in(result, name) for name, result in answer.results.items()}
    result = next(iter(answer.results.values()), None)
    rolls = result.rolls if result else ()
    top: Record = {"files": list(answer.files), "rolls": [row for roll in rolls for row in _widths(roll)]}
    if changes is not None:
        top["changes"] = [
            {
                "part": part.name,
                "what": part.what,
                "finished_by_mm": None if part.finished_by is None else part.finished_by * 1000,
                "cut_by_mm": None if part.cut_by is None else part.cut_by * 1000,
            }
            for part in changes.parts
        ]
    return envelope("cut", answer.source, sets=sets, top=top, problems=answer.problems)


def _widths(roll: RollLayout) -> list[Record]:
    """Return every width one cloth is sold in that takes its parts, the one that wastes least first."""
    area = roll.layout.used * roll.layout.length * roll.layout.width
    rows = [
        {
            "cloth": roll.cloth,
            "width_m": width,
            "length_m": length,
            "area_m2": width * length,
            "used_share": area / (width * length) if length else None,
            "wastes_least": width == roll.layout.width,
        }
        for width, length in roll.lengths
    ]
    return sorted(rows, key=lambda row: not row["wastes_least"])


def _cut_in(result: CutResult, set_name: str) -> Record:
    parts = [part for part in result.parts if part.set_name == set_name]
    panels = {part.panel for part in parts}
    return {
        "parts": [
            {
                "name": part.name,
                "panel": part.panel,
                "cloth": part.cloth,
                "area_m2": part.area,
                "strain_edge_max": part.strain_edge_max,
                "strain_inside_max": part.strain_inside_max,
                "verdict": "pass",
            }
            for part in parts
        ],
        "seams": [
            {
                "name": seam.name,
                "kind": seam.kind,
                "length_a_m": seam.length_a,
                "length_b_m": seam.length_b,
                "ease_mm": seam.ease * 1000,
                "finish": seam.finish or None,
            }
            for seam in result.seams
            if seam.panel_a in panels
        ],
        "edges": [
            {
                "panel": edge.panel,
                "name": edge.name,
                "finish": edge.finish,
                "length_m": edge.length,
                "sd_m": edge.sd,
                "play_m": edge.play,
                "fit": FITS[edge.fit],
                "long_by_mm": edge.long_by * 1000,
            }
            for edge in result.edges
            if edge.panel in panels
        ],
        "divided": [
            {
                "panel": one.panel,
                "reason": one.reason,
                "pieces": one.pieces,
                "strain_whole": one.strain_whole,
                "strain_left": one.strain_left,
                "sag_mm": one.sag * 1000,
                "seams": [{"x_m": x, "y_m": y, "z_m": z} for x, y, z in one.through],
            }
            for one in result.divided
            if one.panel in panels
        ],
        "darts": [_dart(one) for one in result.darts if one.panel in panels],
    }


def _dart(one: CutDart) -> Record:
    return {
        "name": one.name,
        "panel": one.panel,
        "part": one.part,
        "edge": one.edge,
        "at_m": one.at,
        "depth_m": one.depth,
        "width_mm": one.width * 1000,
        "leg_a_m": one.leg_a,
        "leg_b_m": one.leg_b,
        "strain_before": one.strain_before,
        "strain_promised": one.strain_promised,
        "strain_after": one.strain_after,
    }


def buy_record(answer: Answer) -> Record:
    """Return the record of `buy`: cloth, zips, goods, labour, cost."""
    nothing = {**NOTHING, "currency": answer.source.design.prices.currency, **CARRIES_NOTHING}
    carried = carried_record(answer.top)
    sets = {
        name: nothing if result is None else {**_bought(*result), **carried["sets"][name]}
        for name, result in answer.results.items()
    }
    top = {"spares_for": carried["spares_for"], "spares_for_years": carried["spares_for_years"]}
    return envelope("buy", answer.source, sets=sets, top=top, problems=answer.problems)


def carried_record(carried: Any) -> Record:
    """Return the spares to take along and the weights aloft, by set."""
    names = carried.aloft
    return {
        "spares_for": carried.over,
        "spares_for_years": carried.years,
        "sets": {
            name: {
                "spares": [
                    {"name": one.name, "each": one.each, "amount": one.amount, "worn": one.worn}
                    for one in carried.spares[name]
                ],
                "aloft": [
                    {"name": one.name, "mass_kg": one.mass, "over_water_m": one.height, "moment_kgm": one.moment}
                    for one in carried.aloft[name]
                ],
                "aloft_kg": sum(one.mass for one in carried.aloft[name]),
                "aloft_moment_kgm": sum(one.moment for one in carried.aloft[name]),
            }
            for name in names
        },
    }


def _bought(take: TakeOff, cost: Bill) -> Record:
    return {
        "sentence": f"{'No total' if cost.materials is None else 'Total'}: {cost.says}.",
        "cloth": [
            {
                "name": cloth.name,
                "area_m2": cloth.area,
                "roll_width_m": cloth.roll.width,
                "roll_length_m": cloth.roll.length,
                "used_share": cloth.roll.used,
                "mass_kg": cloth.mass,
            }
            for cloth in take.cloth
        ],
        "zips": [
            {
                "name": one.name,
                "length_m": one.length,
                "mates": one.mates,
                "half": one.half,
                "gauge": one.gauge,
                "tooth": one.tooth,
                "slider_end": one.slider_end,
            }
            for one in take.zips
        ],
        "goods": [
            {"name": one.name, "each": one.each, "amount": one.amount, "mass_kg": one.mass}
            for one in (*take.goods, *take.tubes)
        ],
        "panels": [
            {"name": one.panel, "area_m2": one.area, "sewing_m": one.sewing, "mass_kg": one.mass} for one in take.panels
        ],
        "thread_m": take.thread,
        "sewing_m": take.sewing,
        "mass_kg": take.mass,
        "labour": [
            {"name": work.name, "amount": work.amount, "hours_low": work.low, "hours_high": work.high}
            for work in cost.work
        ],
        "currency": cost.currency,
        "materials_cost": cost.materials,
        "unpriced": list(cost.unpriced),
        "hours_low": cost.hours_low,
        "hours_high": cost.hours_high,
        "total_low": cost.total_low,
        "total_high": cost.total_high,
    }


def brief_record(answer: Answer) -> Record:
    """Return the record of `brief`: its files."""
    sets: dict[str, Record] = {name: {} for name in answer.results}
    return envelope("brief", answer.source, sets=sets, top={"files": list(answer.files)}, problems=answer.problems)
