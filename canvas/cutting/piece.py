"""Hold what is to be cut: a formed panel as one or more pieces, their edges, the cloth, and what joins them.

Computes: arc lengths along edges; nothing else. Terms: a *panel* is what the design names, a *piece* is what is cut
    from one cloth in one part, a *joint* is a seam or zip between two edges.
Units: metres, boat frame; shares and strains without unit.
Source: none.
Limits: triangles are counter-clockwise seen from outside; edges run round the outline in that same sense.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

import numpy as np

from canvas.geometry.surface import Floats, Ints, locked

JointKind = Literal["zip", "seam"]


@dataclass(frozen=True, slots=True, kw_only=True)
class ClothToCut:
    """What cutting needs to know of a cloth.

    Attributes
    ----------
    name : str
    kind : str
        ``cloth``, ``mesh`` or ``sheet``.
    roll_widths : tuple of float
        Widths it is sold in. [m]
    warp_compensation, weft_compensation : float
        Share by which it is cut smaller. [1]
    strain_limit : float
        Strain it takes up without wrinkling when laid from flat to shape. [1]
    """

    name: str
    kind: str
    roll_widths: tuple[float, ...]
    warp_compensation: float
    weft_compensation: float
    strain_limit: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class EdgeToCut:
    """One edge of a panel, corner to corner.

    Attributes
    ----------
    name : str
        Unique in its panel.
    finish : str
        Name of the edge finish, as in the table of finishes.
    vertices : (k,) ndarray of int
        Panel vertices along the edge, first and last being its corners.
    sd : float or None
        Standard deviation of the edge's length; None where unknown. [m]
    play : float
        How far its length changes either way as loose tubes move. [m]
    measured : float or None
        Length of the zip aboard that it runs on, or is, as measured there. [m]
    tube_diameter : float or None
        Outside diameter of the tube or batten a pocket takes. [m]
    tolerance : float or None
        How far its place may be off; that of its finish where absent. [m]
    """

    name: str
    finish: str
    vertices: Ints
    sd: float | None = None
    tube_diameter: float | None = None
    tolerance: float | None = None
    play: float = 0.0
    measured: float | None = None

    def __post_init__(self) -> None:
        object.__setattr__(self, "vertices", locked(self.vertices, dtype=np.int64))


@dataclass(frozen=True, slots=True, kw_only=True)
class Insert:
    """A window or mesh insert in a panel.

    Attributes
    ----------
    name : str
    zone : int
        Number of its triangles in the panel's `zone`.
    cloth : ClothToCut
        Sheet or mesh it is cut from.
    rolls_up : bool
        True where it is rolled up and strapped.
    """

    name: str
    zone: int
    cloth: ClothToCut
    rolls_up: bool = False


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Piercing:
    """Where a wire or tube passes through a panel.

    Attributes
    ----------
    name : str
    at : (3,) ndarray
        Where it passes. [m]
    diameter : float
        Of what passes. [m]
    slit : (k, 3) ndarray or None
        Line from there to an edge along which the cloth is slit open, so that it goes round the wire. [m]
    collar : float or None
        From the hole to the collar's edge; as usual where absent. [m]
    """

    name: str
    at: Floats
    diameter: float
    slit: Floats | None = None
    collar: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class DartToCut:
    """A dart that a panel gets: a cut square in from an edge, sewn shut again.

    Attributes
    ----------
    edge : str
    at : float
        Along that edge as formed, from its first corner. [m]
    depth : float
        From the edge to its point. [m]
    width : float or None
        Of cloth taken out at the edge, flat; as the cloth opens by itself where None. [m]
    """

    edge: str
    at: float
    depth: float
    width: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PanelToCut:
    """One formed panel, ready to be cut.

    Attributes
    ----------
    name, set_name : str
    vertices : (n, 3) ndarray
        [m]
    faces : (m, 3) ndarray of int
    warp : (m, 3) ndarray
        Direction of the warp in each triangle.
    zone : (m,) ndarray of int
        0 for the panel's own cloth, else the zone of an insert.
    edges : tuple of EdgeToCut
        Round the outline, each starting where the last ended.
    cloth : ClothToCut
    inserts, piercings : tuple
    contacts : tuple of ndarray
        Polylines on the panel where it lies over a tube, (k, 3) each: chafe patches go there. [m]
    ties : tuple of ndarray
        Points where a tie pulls, (3,) each. [m]
    existing : bool
        Measured, not cut: new cloth mates to its edges.
    darts : tuple of DartToCut, or ``proposed``
        Those the design asks for, or that it takes what the program proposes.
    seam_kind : str
        How its pieces are joined, a key of `canvas.cutting.seamkinds.KINDS`.
    """

    name: str
    set_name: str
    vertices: Floats
    faces: Ints
    warp: Floats
    zone: Ints
    edges: tuple[EdgeToCut, ...]
    cloth: ClothToCut
    inserts: tuple[Insert, ...] = ()
    piercings: tuple[Piercing, ...] = ()
    contacts: tuple[Floats, ...] = ()
    ties: tuple[Floats, ...] = ()
    existing: bool = False
    darts: tuple[DartToCut, ...] | Literal["proposed"] = ()
    seam_kind: str = "plain"

    def __post_init__(self) -> None:
        object.__setattr__(self, "vertices", locked(self.vertices))
        object.__setattr__(self, "warp", locked(self.warp))
        object.__setattr__(self, "faces", locked(self.faces, dtype=np.int64))
        object.__setattr__(self, "zone", locked(self.zone, dtype=np.int64))

    def edge(self, name: str) -> EdgeToCut:
        """Return the edge of that name."""
        return next(edge for edge in self.edges if edge.name == name)

    def compensation(self, zone: Ints) -> tuple[Floats, Floats]:
        """Return by what share triangles, by `zone` (m,), are cut smaller along warp and weft, each (m,).

        An existing panel is not compensated: what is there is there.
        """
        warp, weft = np.zeros(len(zone)), np.zeros(len(zone))
        cloths = {0: self.cloth, **{insert.zone: insert.cloth for insert in self.inserts}}
        for number, cloth in cloths.items() if not self.existing else ():
            warp[zone == number] = cloth.warp_compensation
            weft[zone == number] = cloth.weft_compensation
        return warp, weft


@dataclass(frozen=True, slots=True, kw_only=True)
class Joint:
    """Two edges that are sewn or zipped together, side a whole, side b whole or in part.

    Attributes
    ----------
    name : str
    kind : str
        ``zip`` or ``seam``.
    panel_a, edge_a, panel_b, edge_b : str
    span_b : (float, float)
        Where on edge b, as shares of its length in its own direction, a's first and last corner lie. A first share
        larger than the last means that the two run against each other, the usual case.
    ease : float
        By how much side a is cut longer than side b on purpose. [m]
    handing : str
        Which half of the zip side a carries, ``left`` or ``right``; empty for a seam.
    slider_end : str
        ``start`` or ``end`` of side a, as its outline runs, where the slider parks; empty for a seam.
    tape : float or None
        Length of the zip's tape, where one is given. [m]
    gauge : int or None
        Width of the chain, closed. [mm]
    tooth : str
        ``moulded``, ``coil`` or ``metal``; empty where not said.
    """

    name: str
    kind: JointKind
    panel_a: str
    edge_a: str
    panel_b: str
    edge_b: str
    span_b: tuple[float, float] = (1.0, 0.0)
    ease: float = 0.0
    handing: str = ""
    slider_end: str = ""
    tape: float | None = None
    gauge: int | None = None
    tooth: str = ""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PieceEdge:
    """A stretch of a piece's outline with one finish.

    Attributes
    ----------
    name : str
        The panel's edge, or the name of the seam between two pieces.
    finish : str
    vertices : (k,) ndarray of int
        Piece vertices, in outline order.
    arc : (k,) ndarray
        Place of each vertex along the panel's edge (or the seam), from its first corner, rising or falling. [m]
    seam : bool
        True for a seam made by splitting a panel.
    """

    name: str
    finish: str
    vertices: Ints
    arc: Floats
    seam: bool = False

    def __post_init__(self) -> None:
        object.__setattr__(self, "vertices", locked(self.vertices, dtype=np.int64))
        object.__setattr__(self, "arc", locked(self.arc))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Piece:
    """What is cut in one part: a mesh and its outline as edges.

    Attributes
    ----------
    name : str
    panel : str
    vertices : (n, 3) ndarray
        [m]
    faces, zone, warp : ndarray
        As in `PanelToCut`.
    edges : tuple of PieceEdge
        Round the outline.
    """

    name: str
    panel: str
    vertices: Floats
    faces: Ints
    warp: Floats
    zone: Ints
    edges: tuple[PieceEdge, ...] = field(default=())

    def __post_init__(self) -> None:
        object.__setattr__(self, "vertices", locked(self.vertices))
        object.__setattr__(self, "warp", locked(self.warp))
        object.__setattr__(self, "faces", locked(self.faces, dtype=np.int64))
        object.__setattr__(self, "zone", locked(self.zone, dtype=np.int64))


def arc_length(points: Floats) -> Floats:
    """Return the length along a polyline from its first point to each of `points` (k, d), shape (k,) [m]."""
    steps = np.linalg.norm(np.diff(points, axis=0), axis=1)
    result: Floats = np.concatenate([[0.0], np.cumsum(steps)])
    return result


def edge_length(panel: PanelToCut, name: str) -> float:
    """Return the formed length of a panel's edge. [m]."""
    return float(arc_length(panel.vertices[panel.edge(name).vertices])[-1])


def whole_piece(panel: PanelToCut) -> Piece:
    """Return the panel as one piece."""
    edges = tuple(
        PieceEdge(
            name=edge.name, finish=edge.finish, vertices=edge.vertices, arc=arc_length(panel.vertices[edge.vertices])
        )
        for edge in panel.edges
    )
    return Piece(
        name=panel.name,
        panel=panel.name,
        vertices=panel.vertices,
        faces=panel.faces,
        warp=panel.warp,
        zone=panel.zone,
        edges=edges,
    )
