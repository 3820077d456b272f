"""Build what stands about on the boat: boxes, cylinders, plates and meshes from files.

Computes: one closed surface for each solid that is there in a set.
Units: metres, radians, boat frame (x aft, y starboard, z up).
Source: turns are applied tilt first, then pitch, then the turn about the vertical, about the middle of the solid, or
    the origin of its mesh. glTF 2.0 has y up and z forward and is turned into the boat's axes; other files are taken
    in them.
Limits: a mesh must be closed and in the design's own folder; what shines through a clear solid is that of clear
    sheet.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np
from manifold3d import Manifold

from canvas.design.names import NameProblem
from canvas.design.problems import DesignError
from canvas.design.schema.boat import Solid
from canvas.design.schema.design import Design
from canvas.design.tables import cloths
from canvas.geometry.closed import bar, box, edge_manifold, solid_of, surface_of
from canvas.geometry.marks import Locate
from canvas.geometry.meshfile import FORMATS, read_triangles
from canvas.geometry.surface import Floats, Ints, Surface

CLEAR = "clear sheet 0.75"  # what a windscreen lets through
MOST_FACES = 200_000  # of a mesh file
_GLTF = np.array([[0.0, 0.0, -1.0], [-1.0, 0.0, 0.0], [0.0, 1.0, 0.0]])  # glTF 2.0, 3.4: y up, z forward, x to port

_NEEDS = {"box": ("at", "size"), "plate": ("at", "size"), "cylinder": ("at", "to", "diameter"), "mesh": ("file",)}
_TAKES = {
    "box": ("at", "size", "turn", "pitch", "tilt"),
    "plate": ("at", "size", "turn", "pitch", "tilt"),
    "cylinder": ("at", "to", "diameter"),
    "mesh": ("at", "file", "scale", "turn", "pitch", "tilt", "in_place_of_boat"),
}


def solid_surfaces(design: Design, *, set_name: str, at: Locate, folder: Path) -> tuple[Surface, ...]:
    """Return the solids that are there in a set, in the order of the file.

    Parameters
    ----------
    design : Design
    set_name : str
    at : callable
        From spot to point.
    folder : Path
        The design's, where mesh files lie.
    """
    sheet = cloths()[CLEAR]
    clear = (sheet.light_through, sheet.uv_through, sheet.sight_through)
    return tuple(
        surface_of(solid_body(solid, at=at, folder=folder), name=solid.name, kind="solid",
                   clear=clear if solid.clear else None)
        for solid in design.solid
        if not solid.in_place_of_boat and (solid.sets is None or set_name in solid.sets)
    )  # fmt: skip


def standing_for_boat(design: Design, *, at: Locate, folder: Path) -> tuple[Manifold, ...]:
    """Return the meshes that stand for hull, cabin and cockpit within their own boxes, whatever the set.

    Parameters
    ----------
    design : Design
    at : callable
        Gives the place (3,) of a mark or of typed coordinates [m].
    folder : Path
        Where the design's mesh files lie.

    Raises
    ------
    ValueError
        As `solid_body`.
    """
    return tuple(solid_body(solid, at=at, folder=folder) for solid in design.solid if solid.in_place_of_boat)


def solid_body(solid: Solid, *, at: Locate, folder: Path) -> Manifold:
    """Return one solid.

    Parameters
    ----------
    solid : Solid
    at : callable
        Gives the place (3,) of a mark or of typed coordinates [m].
    folder : Path
        Where its mesh file lies.

    Raises
    ------
    ValueError
        When a key it needs is missing or its mesh cannot be used; `body_problems` says so beforehand.
    """
    if solid.kind == "cylinder" and solid.at is not None and solid.to is not None and solid.diameter is not None:
        return bar(at(solid.at), at(solid.to), width=solid.diameter)
    if solid.kind in ("box", "plate") and solid.at is not None and solid.size is not None:
        return box(solid.size, middle=at(solid.at), turned=turned(solid))
    if solid.kind == "mesh" and solid.file is not None:
        vertices, faces = _mesh(folder / solid.file, scale=solid.scale or 1.0)
        origin = np.zeros(3) if solid.at is None else at(solid.at)
        return solid_of(vertices @ turned(solid).T + origin, faces)
    raise ValueError(f"a {solid.kind} without what it needs")


def turned(solid: Solid) -> Floats:
    """Return a solid's rotation, shape (3, 3): turn clockwise from above, forward end up, starboard side down."""
    a, b, c = -solid.turn, solid.pitch, -solid.tilt
    about_z = np.array([[np.cos(a), -np.sin(a), 0.0], [np.sin(a), np.cos(a), 0.0], [0.0, 0.0, 1.0]])
    about_y = np.array([[np.cos(b), 0.0, np.sin(b)], [0.0, 1.0, 0.0], [-np.sin(b), 0.0, np.cos(b)]])
    about_x = np.array([[1.0, 0.0, 0.0], [0.0, np.cos(c), -np.sin(c)], [0.0, np.sin(c), np.cos(c)]])
    rotation: Floats = about_z @ about_y @ about_x
    return rotation


def _mesh(path: Path, *, scale: float) -> tuple[Floats, Ints]:
    try:
        vertices, faces = read_triangles(path, most_faces=MOST_FACES)
    except DesignError as error:
        raise ValueError(error.problems[0].found) from error
    if not np.isfinite(vertices).all():
        raise ValueError("points that are not numbers")
    if path.suffix.lower() == ".glb":
        vertices = vertices @ _GLTF.T
    if not edge_manifold(faces):  # STL repeats every corner
        vertices, same = np.unique(vertices, axis=0, return_inverse=True)
        faces = same.reshape(-1)[faces]
    faces = faces[(faces != np.roll(faces, 1, axis=1)).all(axis=1)]
    return vertices * scale, faces


def body_problems(design: Design, *, folder: Path) -> Iterator[NameProblem]:
    """Yield what makes a solid impossible, missing and unusable mesh files included."""
    for index, solid in enumerate(design.solid):
        yield from _key_problems(solid, index=index)
        if solid.size is not None and min(solid.size) <= 0:
            yield NameProblem(
                path=("solid", index, "size"), code="no-size", found=f"a size of {min(solid.size):.3f} m",
                wanted="Write length, width and height, each above zero.",
            )  # fmt: skip
        if solid.kind == "cylinder" and solid.at is not None and solid.to is not None:
            ends = [design.marks.get(end) if isinstance(end, str) else end for end in (solid.at, solid.to)]
            if solid.at == solid.to or (ends[0] is not None and ends[0] != "survey" and ends[0] == ends[1]):
                yield NameProblem(
                    path=("solid", index, "to"), code="no-size", found="the cylinder's other end, at the same spot",
                    wanted="Give its two ends.",
                )  # fmt: skip
        if solid.kind == "mesh" and solid.file is not None:
            yield from _file_problems(solid, index=index, folder=folder)


def _key_problems(solid: Solid, *, index: int) -> Iterator[NameProblem]:
    for key in _NEEDS[solid.kind]:
        if getattr(solid, key) is None:
            yield NameProblem(
                path=("solid", index), code="missing-key", found=f'no key "{key}"',
                wanted=f"A {solid.kind} needs {', '.join(_NEEDS[solid.kind])}.",
            )  # fmt: skip
    for key in ("at", "size", "to", "diameter", "file", "scale", "turn", "pitch", "tilt", "in_place_of_boat"):
        if key in solid.model_fields_set and key not in _TAKES[solid.kind]:
            yield NameProblem(
                path=("solid", index, key), code="key-without-use", found=f'"{key}" of a {solid.kind}',
                wanted=f"A {solid.kind} takes {', '.join(_TAKES[solid.kind])}.",
            )  # fmt: skip


def _file_problems(solid: Solid, *, index: int, folder: Path) -> Iterator[NameProblem]:
    name = str(solid.file)
    path = folder / name

    def problem(code: str, found: str, wanted: str, *, key: str = "file") -> NameProblem:
        return NameProblem(path=("solid", index, key), code=code, found=found, wanted=wanted)

    if Path(name).is_absolute() or not path.resolve().is_relative_to(folder.resolve()):
        yield problem("mesh-outside-folder", f'"{name}"', "Put the mesh beside the design and write its name only.")
        return
    if path.suffix.lower() not in FORMATS:
        yield problem("mesh-format", f'"{name}"', f"Known: {', '.join(sorted(FORMATS))}.")
        return
    if not path.is_file():
        yield problem("mesh-missing", f'no file "{name}" beside the design', "Put it there, or mend its name.")
        return
    if solid.scale is None and path.suffix.lower() != ".glb":
        yield problem("missing-key", 'no key "scale"', 'Write the length of one unit of the file, such as "1 mm".',
                      key="scale")  # fmt: skip
    try:
        solid_of(*_mesh(path, scale=1.0))
    except ValueError as error:
        yield problem(
            "mesh-not-closed" if "closed" in str(error) else "mesh-unreadable", f'"{name}": {error}',
            f"Write a closed mesh, every edge between two faces, of at most {MOST_FACES} faces.",
        )  # fmt: skip
