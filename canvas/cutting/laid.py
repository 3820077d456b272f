"""Hold a panel divided and laid flat, before its parts are drawn.

Computes: the finish, wanted length and strain of each piece's edge.
Units: metres.
Source: none.
Limits: none of its own.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from canvas.cutting.finish import Finish
from canvas.cutting.flatten import Flat
from canvas.cutting.part import Fit
from canvas.cutting.piece import PanelToCut, Piece, PieceEdge
from canvas.cutting.result import CutDart, Divided
from canvas.cutting.seams import EdgeLength
from canvas.design.problems import Problem


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MadePiece:
    """A piece and how it lies flat."""

    piece: Piece
    flat: Flat

    def edge_strain(self, edge: PieceEdge) -> float:
        """Return the largest strain along one of its edges, either sign."""
        steps = set(zip(edge.vertices[:-1].tolist(), edge.vertices[1:].tolist(), strict=True))
        on = [k for k, (i, j) in enumerate(self.flat.outline.tolist()) if (i, j) in steps]
        return float(np.max(np.abs(self.flat.outline_strain[on]))) if on else 0.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MadePanel:
    """A panel divided and laid flat.

    Attributes
    ----------
    panel : PanelToCut
    pieces : tuple of MadePiece
    finishes : mapping
        By edge name, pockets made for their tubes.
    inner : mapping
        Of seams between pieces and of darts, by finish.
    fits : mapping of str to (fit, long by)
        By edge name.
    lengths : mapping
        Wanted flat length by edge name.
    seams : mapping
        Wanted flat length by name of seam between pieces, or of dart.
    problems : tuple of Problem
    divided : Divided or None
    darts : tuple of CutDart
    units : str
        In which words beside its parts say lengths.
    """

    panel: PanelToCut
    pieces: tuple[MadePiece, ...]
    finishes: Mapping[str, Finish]
    inner: Mapping[str, Finish]
    fits: Mapping[str, tuple[Fit, float]]
    lengths: Mapping[str, EdgeLength]
    seams: Mapping[str, EdgeLength]
    problems: tuple[Problem, ...]
    divided: Divided | None
    darts: tuple[CutDart, ...] = ()
    units: str = "m"

    def finish(self, edge: PieceEdge) -> Finish:
        """Return the finish of a piece's edge."""
        return self.inner[edge.finish] if edge.seam else self.finishes[edge.name]

    def fit(self, edge: PieceEdge) -> tuple[Fit, float]:
        """Return how a piece's edge is cut and by how much longer."""
        return ("final", 0.0) if edge.seam else self.fits[edge.name]

    def length(self, edge: PieceEdge) -> EdgeLength:
        """Return the wanted flat length along what a piece's edge is part of."""
        return self.seams[edge.name] if edge.seam else self.lengths[edge.name]
