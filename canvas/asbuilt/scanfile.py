"""Read a 3D scan from a file, within limits, and say what is wrong with one that cannot be used.

Computes: triangles as they stand in the file; how many of them had to be left out and why.
Units: the file's own, unknown until a length is given; axes the file's own.
Source: PLY, OBJ, STL and binary glTF 2.0 as trimesh reads them. glTF has y up; the others say nothing.
Limits: 2 GB and 20 million triangles; pictures, colours and materials are not read. What a header promises is compared
    with the size of the file before anything is made room for.
"""

from __future__ import annotations

import json
import struct
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from canvas.design.problems import DesignError, Problem
from canvas.geometry.surface import Bools, Floats, Ints

FORMATS = (".ply", ".obj", ".glb", ".stl")
MOST_BYTES = 2_000_000_000
MOST_FACES = 20_000_000
MOST_NODES = 10_000  # of a glTF scene
LEAST_FACES = 100
BAD_SHARE = 0.05  # of the vertices; more of them not numbers is a broken file
PACKED = {
    b"PK\x03\x04": "a zip archive",
    b"\x1f\x8b": "a gzip archive",
    b"7z\xbc\xaf": "a 7z archive",
    b"Rar!": "a rar archive",
}
OTHERS = {
    b"\xff\xd8\xff": "a JPEG picture",
    b"\x89PNG": "a PNG picture",
    b"%PDF": "a PDF",
    b"LASF": "a LAS point cloud",
}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Scan:
    """Triangles of a scan as they stand in its file.

    Attributes
    ----------
    file : str
    vertices : (n, 3) ndarray
        In the file's own unit and axes.
    faces : (m, 3) ndarray of int
    up : {"x", "y", "z"} or None
        The axis that the format says is up; None where it says nothing.
    problems : tuple of Problem
        Notes: what was left out.
    """

    file: str
    vertices: Floats
    faces: Ints
    up: str | None
    problems: tuple[Problem, ...] = ()


def read_scan(path: Path) -> Scan:
    """Return the triangles of a scan.

    Parameters
    ----------
    path : Path
        A PLY, OBJ, GLB or STL file.

    Raises
    ------
    DesignError
        When there is no such file, or it is empty, too large, packed, of another type, broken or without triangles.
    """
    _check_file(path)
    loaded = _loaded(path)
    vertices = np.asarray(loaded.vertices, dtype=np.float64)
    faces = np.asarray(loaded.faces, dtype=np.int64)
    if not len(faces):
        raise _wrong(path, "scan-empty", "a file without triangles", "Export the scan as a mesh, not as points only.")
    if len(faces) > MOST_FACES:
        raise _too_many(path, len(faces))
    if faces.min() < 0 or faces.max() >= len(vertices):
        raise _wrong(path, "scan-unreadable", "triangles between points that are not there", "Export the scan again.")
    good: Bools = np.asarray(np.isfinite(vertices).all(axis=1))
    problems: tuple[Problem, ...] = ()
    if not good.all():
        lost = int((~good).sum())
        said = f"{lost} of {len(good)} points that are not numbers"
        if lost > BAD_SHARE * len(good):
            raise _wrong(path, "scan-not-numbers", said, "Export the scan again; this file is broken.")
        faces = faces[good[faces].all(axis=1)]
        vertices = np.where(good[:, None], vertices, 0.0)
        problems = (
            Problem(code="scan-not-numbers", severity="warning", file=str(path), found=said,
                    wanted="Their triangles were left out. Export the scan again if they matter."),
        )  # fmt: skip
    used = vertices[faces[:: max(1, len(faces) // 1000)]].reshape(-1, 3)
    if len(faces) < LEAST_FACES or not np.ptp(used, axis=0).max() > 0:
        said = f"{len(faces)} triangles" if len(faces) < LEAST_FACES else "triangles all in one spot"
        raise _wrong(path, "scan-empty", said, f"A scan has at least {LEAST_FACES}; export it again.")
    return Scan(
        file=str(path), vertices=vertices, faces=faces, up="y" if path.suffix.lower() == ".glb" else None,
        problems=problems,
    )  # fmt: skip


def _check_file(path: Path) -> None:
    """Raise for a file that must not be opened any further."""
    if not path.is_file():
        raise _wrong(path, "scan-missing", "no such file", "Name a PLY, OBJ, GLB or STL file.")
    size = path.stat().st_size
    with path.open("rb") as stream:
        head = stream.read(65536)
    for magic, kind in PACKED.items():
        if head.startswith(magic):
            raise _wrong(path, "scan-packed", kind, "Unpack it first and name the mesh in it; nothing was unpacked.")
    for magic, kind in OTHERS.items():
        if head.startswith(magic):
            raise _wrong(path, "scan-type", kind, "Export the scan as PLY, OBJ, GLB or STL.")
    if path.suffix.lower() not in FORMATS:
        raise _wrong(path, "scan-type", f'a file ending in "{path.suffix}"', "Export the scan as PLY, OBJ, GLB or STL.")
    if not size:
        raise _wrong(path, "scan-empty", "an empty file", "Export the scan again.")
    if size > MOST_BYTES:
        said = f"{size / 1e9:.1f} GB"
        raise _wrong(
            path, "scan-too-large", said, f"At most {MOST_BYTES / 1e9:.0f} GB: trim or thin it where it was made."
        )
    _check_promises(path, head, size)


def _check_promises(path: Path, head: bytes, size: int) -> None:
    """Raise where a header promises more than the file can hold."""
    broken = "Export the scan again; nothing was made room for."
    match path.suffix.lower():
        case ".ply":
            if not head.startswith(b"ply"):
                raise _wrong(path, "scan-type", "a file that does not begin as PLY does", "Export the scan again.")
            for line in head.split(b"end_header")[0].splitlines():
                words = line.split()
                if len(words) == 3 and words[0] == b"element":
                    count = int(words[2]) if words[2].isdigit() else -1
                    if not 0 <= count <= size:
                        said = f"a header that promises {words[2][:20].decode(errors='replace')} parts in {size} bytes"
                        raise _wrong(path, "scan-broken", said, broken)
                    if words[1] == b"face" and count > MOST_FACES:
                        raise _too_many(path, count)
        case ".stl":
            if size >= 84 and head.lstrip()[:5].lower() != b"solid":
                count = struct.unpack("<I", head[80:84])[0]
                if 84 + 50 * count != size:
                    said = f"a header that promises {count} triangles in {size} bytes"
                    raise _wrong(path, "scan-broken", said, broken)
                if count > MOST_FACES:
                    raise _too_many(path, count)
        case ".glb":
            _check_gltf(path, head, size)


def _check_gltf(path: Path, head: bytes, size: int) -> None:
    if head[:4] != b"glTF" or len(head) < 20:
        raise _wrong(path, "scan-type", "a file that does not begin as binary glTF does", "Export the scan again.")
    length = struct.unpack("<I", head[12:16])[0]
    if length + 20 > size:
        raise _wrong(path, "scan-broken", "a glTF file that is cut off", "Copy or export it again.")
    with path.open("rb") as stream:
        stream.seek(20)
        raw = stream.read(length)
    try:
        tree: dict[str, Any] = json.loads(raw)
        counts = [int(one.get("count", 0)) for one in tree.get("accessors", ())]
        children = [int(child) for node in tree.get("nodes", ()) for child in node.get("children", ())]
    except (ValueError, AttributeError, TypeError, RecursionError) as error:
        raise _wrong(path, "scan-broken", "a glTF file whose description cannot be read", "Export it again.") from error
    if "KHR_draco_mesh_compression" in tree.get("extensionsRequired", ()):
        raise _wrong(path, "scan-packed", "a glTF file packed by Draco", "Export it without compression.")
    if sum(counts) > min(size, 6 * MOST_FACES):
        said = f"a description that promises {sum(counts)} numbers in {size} bytes"
        raise _wrong(path, "scan-broken", said, "Export the scan again; nothing was made room for.")
    if len(tree.get("nodes", ())) > MOST_NODES or len(children) != len(set(children)):
        raise _wrong(path, "scan-broken", "parts that are repeated inside each other", "Export the scan as one mesh.")


def _loaded(path: Path) -> Any:
    import trimesh

    try:
        return trimesh.load(path, process=False, force="mesh", skip_materials=True)
    except (ValueError, KeyError, IndexError, TypeError, AttributeError, NotImplementedError, OverflowError,
            UnicodeError, struct.error, RecursionError, EOFError) as error:  # fmt: skip
        raise _wrong(
            path, "scan-unreadable", "a file that cannot be read as a mesh", "Export the scan again."
        ) from error


def _too_many(path: Path, count: int) -> DesignError:
    wanted = f"At most {MOST_FACES // 1_000_000} million: thin it where it was made."
    return _wrong(path, "scan-too-large", f"{count} triangles", wanted)


def _wrong(path: Path, code: str, found: str, wanted: str) -> DesignError:
    return DesignError([Problem(code=code, file=str(path), found=found, wanted=wanted)])
