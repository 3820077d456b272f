"""Bound the wind pressure on canvas by published coefficients, zone by zone.

Computes: for each face of a panel the greatest and least net pressure coefficient, and the pressure of a wind with its
    gusts at the panel's height; where the air flow was run, its mean pressures if they are the larger.
Units: pascals, metres a second, metres; pressure positive where it pushes on the outside (down on a roof).
Source: roofs: EN 1991-1-4:2005 table 7.6, monopitch canopies, by slope and by whether the lee is open (phi 0) or shut
    (phi 1), zones A, B, C; upright panels: table 7.9, free-standing walls without returns, zones A to D. Gusts:
    eq. 4.8, q = (1 + 7 I_v) rho V^2 / 2, with I_v = 1 / ln(z / 0.003 m) of terrain 0, z at least 1 m.
Limits: the coefficients are design envelopes over all wind directions, so they bound a load and do not match it; a tent
    open at one end is taken both open and shut. Slopes over 30 deg take the 30 deg row. Breaking seas are not wind.
    A flow run gives one mean a panel: where it is the larger, the table's zones are raised by the same share until
    their mean is the flow's.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass, replace
from functools import cache
from importlib.resources import files
from typing import Literal

import numpy as np

from canvas.air.profile import profile_ratio
from canvas.air.wind import dynamic_pressure
from canvas.cloth.shape import PanelShape
from canvas.geometry.surface import Floats, Ints, locked
from canvas.geometry.triangles import area_vectors

Case = Literal["pushed in", "sucked out"]
CASES: tuple[Case, ...] = ("pushed in", "sucked out")
Ground = Literal["table", "flow"]
STEEPEST = np.radians(30.0)  # last row of table 7.6
UPRIGHT = np.radians(60.0)  # steeper panels are walls
TERRAIN_0 = 0.003  # roughness length [m], EN 1991-1-4 table 4.1
LOWEST_TURBULENCE = 1.0  # z_min of terrain 0 [m]
WALL = {"A": 2.3, "B": 1.4, "C": 1.2, "D": 1.2}  # table 7.9, solidity 1, length 3 heights
WALL_ENDS = {"A": 0.3, "B": 2.0, "C": 4.0}  # ends of the zones, in heights from the free end


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Coefficients:
    """Net pressure coefficients on the faces of one panel.

    Attributes
    ----------
    panel : str
    kind : str
        ``roof`` or ``wall``.
    slope : float
        Of the panel's mean plane from level [rad].
    zone : (m,) ndarray of str
    pushed, sucked : (m,) ndarray
        Greatest and least.
    height : float
        Of the panel's middle over the water [m].
    area : (m,) ndarray
        [m2]
    flow : tuple of float or None
        Greatest and least mean coefficient of the flow's runs, on the wind's pressure at `flow_height`, its height over
        the water [m]; None where the flow was not run.
    """

    panel: str
    kind: Literal["roof", "wall"]
    slope: float
    zone: Ints
    pushed: Floats
    sucked: Floats
    height: float
    area: Floats
    flow: tuple[float, float] | None = None
    flow_height: float = 10.0

    def of(self, case: Case) -> Floats:
        """Return the coefficients of one case, (m,)."""
        return self.pushed if case == "pushed in" else self.sucked

    def pressure(self, case: Case, *, aws: float, instrument_height: float) -> Floats:
        """Return the pressure on each face in one case, (m,), positive where it pushes on the outside [Pa].

        Parameters
        ----------
        case : str
            ``pushed in`` or ``sucked out``.
        aws : float
            Mean apparent wind at the instrument, before gusts [m/s].
        instrument_height : float
            Over the water [m].
        """
        blow = gust_pressure(aws, height=self.height, instrument_height=instrument_height)
        return self.of(case) * blow * max(self._share(case, instrument_height), 1.0)

    def ground(self, case: Case, *, instrument_height: float) -> Ground:
        """Return whether table or flow decides a case: the larger; `instrument_height` as in `pressure`."""
        return "flow" if self._share(case, instrument_height) > 1.0 else "table"

    def _share(self, case: Case, instrument_height: float) -> float:
        """Return the flow's mean pressure over the table's; 0 where the flow was not run or pulls the other way."""
        if self.flow is None:
            return 0.0
        here, there = (
            gust_pressure(10.0, height=height, instrument_height=instrument_height)
            for height in (self.height, self.flow_height)
        )
        mean = float(np.average(self.of(case), weights=self.area)) * here
        return self.flow[0 if case == "pushed in" else 1] * there / mean if abs(mean) > 1e-9 else 0.0


def with_flow(coefficients: Coefficients, *, along_normal: Floats, height: float) -> Coefficients:
    """Return coefficients that know the flow's.

    Parameters
    ----------
    coefficients : Coefficients
    along_normal : (r,) ndarray
        Mean net coefficient along the panel's outward normal in each run.
    height : float
        Over the water, of the wind whose pressure they are on [m].
    """
    if len(along_normal) == 0:
        return coefficients
    pushing = -np.asarray(along_normal, dtype=float)
    return replace(coefficients, flow=(float(pushing.max()), float(pushing.min())), flow_height=height)


def coefficients(shape: PanelShape, *, water_z: float, shut: bool) -> Coefficients:
    """Return the net pressure coefficients of a panel.

    Parameters
    ----------
    shape : PanelShape
    water_z : float
        Height of the water [m].
    shut : bool
        Whether canvas or boat may shut the lee under it; the worse of open and shut is then taken.
    """
    corners = shape.vertices[shape.faces]
    areas = area_vectors(corners)
    total = areas.sum(axis=0)
    slope = float(np.arccos(np.clip(abs(total[2]) / max(float(np.linalg.norm(total)), 1e-12), 0.0, 1.0)))
    middles = corners.mean(axis=1)
    height = float(middles[:, 2].mean() - water_z)
    if slope > UPRIGHT:
        zone, worst = _wall(middles, shape.vertices)
        return Coefficients(
            panel=shape.name,
            kind="wall",
            slope=slope,
            zone=zone,
            pushed=locked(worst),
            sucked=locked(-worst),
            height=height,
            area=locked(np.linalg.norm(areas, axis=1)),
        )
    zone = _roof_zones(middles, shape.vertices)
    rows = {key: _roof_row(slope, *key) for key in (("max", "all"), ("min", "0"), ("min", "1"))}
    least = np.minimum(rows["min", "0"], rows["min", "1"]) if shut else rows["min", "0"]
    letters = np.searchsorted(np.array(["A", "B", "C"]), zone)
    return Coefficients(
        panel=shape.name, kind="roof", slope=slope, zone=zone, pushed=locked(rows["max", "all"][letters]),
        sucked=locked(least[letters]), height=height, area=locked(np.linalg.norm(areas, axis=1)),
    )  # fmt: skip


def upright(shape: PanelShape) -> bool:
    """Return whether a panel may shut the lee of the others: it stands up more than it lies."""
    corners = shape.vertices[shape.faces]
    total = area_vectors(corners).sum(axis=0)
    return bool(abs(total[2]) < 0.5 * np.linalg.norm(total))


def gust_pressure(aws: float, *, height: float, instrument_height: float) -> float:
    """Return the peak dynamic pressure of a mean wind at a height.

    Parameters
    ----------
    aws : float
        Mean apparent wind at the instrument, the boat taken as still [m/s].
    height, instrument_height : float
        Above the water [m].

    Returns
    -------
    float
        [Pa]
    """
    mean = aws * float(profile_ratio(height, reference=instrument_height))
    turbulence = 1.0 / np.log(max(height, LOWEST_TURBULENCE) / TERRAIN_0)  # eq. 4.7
    return float((1 + 7 * turbulence) * dynamic_pressure(mean))  # eq. 4.8


@cache
def _table() -> tuple[dict[str, str], ...]:
    text = files("canvas.strength").joinpath("canopy_monopitch.csv").read_text(encoding="utf-8")
    return tuple(csv.DictReader(text.splitlines()))


def _roof_row(slope: float, case: str, phi: str) -> Floats:
    """Return zones A, B, C of a case, linear between the slopes printed."""
    rows = [row for row in _table() if row["case"] == case and row["blockage_phi"] == phi]
    slopes = np.radians([float(row["slope_deg"]) for row in rows])
    at = min(slope, STEEPEST)
    return np.array([np.interp(at, slopes, [float(row[f"cp_net_{zone}"]) for row in rows]) for zone in "ABC"])


def _roof_zones(middles: Floats, vertices: Floats) -> Ints:
    """Return zone A, B or C of each face: B along the sides (b/10), C along the forward and aft edges (d/10)."""
    low, high = vertices[:, :2].min(axis=0), vertices[:, :2].max(axis=0)
    share = (middles[:, :2] - low) / np.maximum(high - low, 1e-9)
    zone = np.full(len(middles), "A")
    zone[(share[:, 1] < 0.1) | (share[:, 1] > 0.9)] = "B"
    zone[(share[:, 0] < 0.1) | (share[:, 0] > 0.9)] = "C"
    return zone


def _wall(middles: Floats, vertices: Floats) -> tuple[Ints, Floats]:
    """Return zone and coefficient of each face of an upright panel, from its nearer free end."""
    height = float(np.ptp(vertices[:, 2]))
    level = vertices[:, :2] - vertices[:, :2].mean(axis=0)
    along = np.linalg.svd(level, full_matrices=False)[2][0]
    place = middles[:, :2] @ along
    ends = vertices[:, :2] @ along
    off = np.minimum(place - ends.min(), ends.max() - place) / max(height, 1e-9)
    zone = np.select([off < WALL_ENDS["A"], off < WALL_ENDS["B"], off < WALL_ENDS["C"]], ["A", "B", "C"], "D")
    return zone, np.array([WALL[letter] for letter in zone])
