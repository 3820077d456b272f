"""Write a take-off as a CSV file that a spreadsheet or a chandler reads.

Computes: one line for each thing to buy, numbers rounded once.
Units: said beside each number.
Source: none.
Limits: RFC 4180: comma, quotes where needed, lines end in CR LF.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence

from canvas.materials.takeoff import TakeOff

HEAD = ("set", "kind", "name", "amount", "unit", "detail", "mass_kg")


def order_csv(takes: Sequence[TakeOff]) -> str:
    """Return what is to be bought for several sets as CSV."""
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\r\n")
    writer.writerow(HEAD)
    for take in takes:
        writer.writerows(_rows(take))
    return stream.getvalue()


def _rows(take: TakeOff) -> list[tuple[str, ...]]:
    rows: list[tuple[str, ...]] = []
    for cloth in take.cloth:
        detail = f"roll {cloth.roll.width:.2f} m wide; {cloth.area:.2f} m2 in {cloth.parts} parts"
        rows.append(
            (
                take.set_name,
                cloth.kind,
                cloth.name,
                f"{cloth.roll.length:.2f}",
                "m of roll",
                detail,
                f"{cloth.mass:.3f}",
            )
        )
    for one in take.zips:
        parts = [
            f"to {one.mates}",
            "mates a half already aboard" if one.mates_existing else "both halves new",
            f"{one.half} half on the new panel" if one.half else "half to be decided",
            f"gauge {one.gauge}" if one.gauge else "gauge to be decided",
            *([one.tooth] if one.tooth else []),
            *(["with rain flap"] if one.flap else []),
        ]
        rows.append((take.set_name, "zip", one.name, f"{one.length:.3f}", "m", ", ".join(parts), f"{one.mass:.3f}"))
    for goods in take.goods:
        amount = f"{goods.amount:.2f}" if goods.each == "m" else f"{goods.amount:.0f}"
        rows.append((take.set_name, "goods", goods.name, amount, goods.each, "", f"{goods.mass:.3f}"))
    rows += [
        (take.set_name, "tube", tube.name, f"{tube.amount:.2f}", tube.each, "bent and fitted", f"{tube.mass:.3f}")
        for tube in take.tubes
    ]
    rows.append((take.set_name, "thread", "thread", f"{take.thread:.0f}", "m", f"{take.sewing:.1f} m of rows", ""))
    return rows
