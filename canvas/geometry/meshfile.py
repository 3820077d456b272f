"""Read triangles from a mesh file, within limits, and say what is wrong with one that cannot be read.

Computes: vertices and triangles as they stand in the file.
Units: the file's own, and its own axes.
Source: PLY, OBJ, STL and binary glTF 2.0 as trimesh reads them.
Limits: 2 GB; pictures, colours and materials are not read. What a header promises is compared with the size of the file
    before anything is made room for.
"""

from __future__ import annotations

import json
import logging
import struct
from pathlib import Path
from typing import Any, Literal

import numpy as np

from canvas.design.problems import DesignError, Problem
from canvas.geometry.surface import Floats, Ints

logging.getLogger("trimesh").addHandler(logging.NullHandler())  # else it prints tracebacks of what it then does without

FORMATS = (".ply", ".obj", ".glb", ".stl")
MOST_BYTES = 2_000_000_000
MOST_NODES = 10_000  # of a glTF scene
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


def read_triangles(path: Path, *, most_faces: int) -> tuple[Floats, Ints]:
    """Return vertices, shape (n, 3), and triangles, shape (m, 3), of a mesh file; some vertices may be no numbers.

    Parameters
    ----------
    path : Path
        A PLY, OBJ, GLB or STL file.
    most_faces : int
        More triangles are refused, before room is made for them where the header tells.

    Raises
    ------
    DesignError
        When there is no such file, or it is empty, too large, packed, of another type, broken or without triangles.
    """
    _check_file(path, most_faces=most_faces)
    loaded = _loaded(path)
    try:
        vertices = np.asarray(loaded.vertices, dtype=np.float64)
        faces = np.asarray(loaded.faces, dtype=np.int64)
    except (ValueError, TypeError, OverflowError) as error:
        raise wrong(path, "scan-unreadable", "parts that are not triangles", "Export the scan again.") from error
    if not len(faces):
        raise wrong(path, "scan-empty", "a file without triangles", "Export the scan as a mesh, not as points only.")
    if len(faces) > most_faces:
        raise _too_many(path, len(faces), most_faces=most_faces)
    if vertices.ndim != 2 or vertices.shape[1] != 3 or faces.shape[1:] != (3,):
        raise wrong(path, "scan-unreadable", "parts that are not triangles", "Export the scan again.")
    if faces.min() < 0 or faces.max() >= len(vertices):
        raise wrong(path, "scan-unreadable", "triangles between points that are not there", "Export the scan again.")
    return vertices, faces


def wrong(path: Path, code: str, found: str, wanted: str) -> DesignError:
    """Return the error of a mesh file, with the file's name.

    Parameters
    ----------
    path : Path
        The mesh's.
    code, found, wanted : str
        As in `canvas.design.problems.Problem`.
    """
    return DesignError([Problem(code=code, file=str(path), found=found, wanted=wanted)])


def _check_file(path: Path, *, most_faces: int) -> None:
    """Raise for a file that must not be opened any further."""
    if not path.is_file():
        raise wrong(path, "scan-missing", "no such file", "Name a PLY, OBJ, GLB or STL file.")
    size = path.stat().st_size
    with path.open("rb") as stream:
        head = stream.read(65536)
    for magic, kind in PACKED.items():
        if head.startswith(magic):
            raise wrong(path, "scan-packed", kind, "Unpack it first and name the mesh in it; nothing was unpacked.")
    for magic, kind in OTHERS.items():
        if head.startswith(magic):
            raise wrong(path, "scan-type", kind, "Export the scan as PLY, OBJ, GLB or STL.")
    if path.suffix.lower() not in FORMATS:
        raise wrong(path, "scan-type", f'a file ending in "{path.suffix}"', "Export the scan as PLY, OBJ, GLB or STL.")
    if not size:
        raise wrong(path, "scan-empty", "an empty file", "Export the scan again.")
    if size > MOST_BYTES:
        said = f"{size / 1e9:.1f} GB"
        raise wrong(
            path, "scan-too-large", said, f"At most {MOST_BYTES / 1e9:.0f} GB: trim or thin it where it was made."
        )
    _check_promises(path, head, size, most_faces=most_faces)


def _check_promises(path: Path, head: bytes, size: int, *, most_faces: int) -> None:
    """Raise where a header promises more than the file can hold."""
    broken = "Export the scan again; nothing was made room for."
    match path.suffix.lower():
        case ".ply":
            if not head.startswith(b"ply"):
                raise wrong(path, "scan-type", "a file that does not begin as PLY does", "Export the scan again.")
            for line in head.split(b"end_header")[0].splitlines():
                words = line.split()
                if len(words) == 3 and words[0] == b"element":
                    count = int(words[2]) if words[2].isdigit() else -1
                    if not 0 <= count <= size:
                        said = f"a header that promises {words[2][:20].decode(errors='replace')} parts in {size} bytes"
                        raise wrong(path, "scan-broken", said, broken)
                    if words[1] == b"face" and count > most_faces:
                        raise _too_many(path, count, most_faces=most_faces)
        case ".stl":
            if size >= 84 and head.lstrip()[:5].lower() != b"solid":
                count = struct.unpack("<I", head[80:84])[0]
                if 84 + 50 * count != size:
                    said = f"a header that promises {count} triangles in {size} bytes"
                    raise wrong(path, "scan-broken", said, broken)
                if count > most_faces:
                    raise _too_many(path, count, most_faces=most_faces)
        case ".glb":
            _check_gltf(path, head, size, most_faces=most_faces)


def _check_gltf(path: Path, head: bytes, size: int, *, most_faces: int) -> None:
    if head[:4] != b"glTF" or len(head) < 20:
        raise wrong(path, "scan-type", "a file that does not begin as binary glTF does", "Export the scan again.")
    length = struct.unpack("<I", head[12:16])[0]
    if length + 20 > size:
        raise wrong(path, "scan-broken", "a glTF file that is cut off", "Copy or export it again.")
    with path.open("rb") as stream:
        stream.seek(20)
        raw = stream.read(length)
    try:
        tree: dict[str, Any] = json.loads(raw)
        counts = [int(one.get("count", 0)) for one in tree.get("accessors", ())]
        children = [int(child) for node in tree.get("nodes", ()) for child in node.get("children", ())]
        nodes, needs = len(tree.get("nodes", ())), list(tree.get("extensionsRequired", ()))
    except (ValueError, AttributeError, TypeError, RecursionError) as error:
        raise wrong(path, "scan-broken", "a glTF file whose description cannot be read", "Export it again.") from error
    if "KHR_draco_mesh_compression" in needs:
        raise wrong(path, "scan-packed", "a glTF file packed by Draco", "Export it without compression.")
    if sum(counts) > min(size, 6 * most_faces):
        said = f"a description that promises {sum(counts)} numbers in {size} bytes"
        raise wrong(path, "scan-broken", said, "Export the scan again; nothing was made room for.")
    if nodes > MOST_NODES or len(children) != len(set(children)):
        raise wrong(path, "scan-broken", "parts that are repeated inside each other", "Export the scan as one mesh.")


def _loaded(path: Path) -> Any:
    import trimesh

    lost: Literal["raise", "ignore"] = "raise" if path.suffix.lower() == ".ply" else "ignore"
    try:
        # as a stream: a mesh that names other files opens none of them; a corner that is no number would count as 0
        with path.open("rb") as stream, np.errstate(divide="ignore", over=lost, invalid=lost):
            return trimesh.load(
                stream, file_type=path.suffix.lower()[1:], process=False, force="mesh", skip_materials=True
            )
    except MemoryError:
        raise
    except Exception as error:
        raise wrong(
            path, "scan-unreadable", "a file that cannot be read as a mesh", "Export the scan again."
        ) from error


def _too_many(path: Path, count: int, *, most_faces: int) -> DesignError:
    wanted = f"At most {most_faces}: thin it where it was made."
    return wrong(path, "scan-too-large", f"{count} triangles", wanted)
