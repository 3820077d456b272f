"""Hold the reader of meshes to refusing what is no whole mesh, in words and before room is made for it."""

import json
import struct
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from canvas.design.problems import DesignError
from canvas.geometry.meshfile import read_triangles

ROOT = Path(__file__).parents[2]
TRIANGLE = "v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 3\n"
PLY = (
    "ply\nformat ascii 1.0\nelement vertex {points}\nproperty float x\nproperty float y\nproperty float z\n"
    "element face {faces}\nproperty list uchar int vertex_indices\nend_header\n"
    "0 0 0\n1 0 0\n0 1 0\n3 0 1 2\n3 0 2 1\n"
)


def stl(triangles, *, said=None):
    body = b"".join(struct.pack("<12fH", *range(12), 0) for _ in range(triangles))
    return b"\0" * 80 + struct.pack("<I", triangles if said is None else said) + body


def glb(tree, *, cut=0):
    raw = tree if isinstance(tree, bytes) else json.dumps(tree).encode()
    raw += b" " * (-len(raw) % 4)
    whole = b"glTF" + struct.pack("<2I", 2, 20 + len(raw)) + struct.pack("<I", len(raw)) + b"JSON" + raw
    return whole[: len(whole) - cut]


WRONG = {
    "no file": ("mesh.ply", None, "scan-missing", "no such file"),
    "nothing in it": ("mesh.obj", b"", "scan-empty", "an empty file"),
    "points only": ("mesh.obj", b"v 0 0 0\nv 1 0 0\n", "scan-empty", "without triangles"),
    "a picture": ("mesh.ply", b"\x89PNG\r\n\x1a\n", "scan-type", "a PNG picture"),
    "an archive": ("mesh.ply", b"PK\x03\x04", "scan-packed", "zip"),
    "a text": ("mesh.txt", b"hello", "scan-type", 'ending in ".txt"'),
    "PLY in name alone": ("mesh.ply", b"hello", "scan-type", "does not begin as PLY"),
    "more parts than bytes": ("mesh.ply", PLY.format(points=10**12, faces=2), "scan-broken", "promises 1000000000000"),
    "parts that are no number": ("mesh.ply", PLY.format(points="many", faces=2), "scan-broken", "promises many"),
    "more triangles than asked": ("mesh.ply", PLY.format(points=3, faces=60), "scan-too-large", "60 triangles"),
    "STL cut off": ("mesh.stl", stl(2, said=3), "scan-broken", "promises 3 triangles"),
    "a long STL": ("mesh.stl", stl(60), "scan-too-large", "60 triangles"),
    "a long OBJ": ("mesh.obj", TRIANGLE + 60 * "f 1 2 3\n", "scan-too-large", "61 triangles"),
    "GLB in name alone": ("mesh.glb", b"hello", "scan-type", "binary glTF"),
    "GLB cut off": ("mesh.glb", glb({"asset": {}}, cut=6), "scan-broken", "cut off"),
    "no description": ("mesh.glb", glb(b"{]"), "scan-broken", "cannot be read"),
    "another description": ("mesh.glb", glb([1, 2]), "scan-broken", "cannot be read"),
    "Draco": ("mesh.glb", glb({"extensionsRequired": ["KHR_draco_mesh_compression"]}), "scan-packed", "Draco"),
    "more numbers than bytes": ("mesh.glb", glb({"accessors": [{"count": 10**9}]}), "scan-broken", "promises 10000000"),
    "itself inside": ("mesh.glb", glb({"nodes": [{"children": [1]}, {"children": [1]}]}), "scan-broken", "repeated"),
}


@pytest.mark.behaviour
@pytest.mark.parametrize("name", WRONG)
def test_what_is_no_whole_mesh_is_refused_in_words(name, tmp_path):
    file, content, code, said = WRONG[name]
    path = tmp_path / file
    if content is not None:
        path.write_bytes(content.encode() if isinstance(content, str) else content)
    with pytest.raises(DesignError) as refused:
        read_triangles(path, most_faces=50)
    (problem,) = refused.value.problems
    assert problem.code == code
    assert said in problem.found
    assert problem.file == str(path)
    assert problem.wanted.endswith(".")


@pytest.mark.behaviour
@pytest.mark.filterwarnings("ignore")  # as in use, where a warning stops nothing
@pytest.mark.parametrize(("kind", "corner"), [("int", "nan"), ("uint", "nan"), ("uchar", "1e12"), ("uchar", "inf")])
def test_a_corner_that_is_no_number_does_not_count_as_the_first_point(kind, corner, tmp_path):
    text = PLY.format(points=3, faces=2).replace("uchar int", f"uchar {kind}")
    path = tmp_path / "mesh.ply"
    path.write_text(text.replace("3 0 2 1", f"3 0 {corner} 1"), encoding="utf-8")
    with pytest.raises(DesignError, match="cannot be read as a mesh"):
        read_triangles(path, most_faces=50)
    path.write_text(text.replace("1 0 0", "nan 0 0"), encoding="utf-8")  # a point may be none: scans have such
    assert np.isnan(read_triangles(path, most_faces=50)[0]).sum() == 1


@pytest.mark.behaviour
@pytest.mark.parametrize(("file", "text"), [("mesh.obj", TRIANGLE), ("mesh.ply", PLY.format(points=3, faces=2))])
def test_what_is_one_comes_as_points_and_triangles(file, text, tmp_path):
    path = tmp_path / file
    path.write_text(text, encoding="utf-8")
    vertices, faces = read_triangles(path, most_faces=50)
    corners = vertices[faces[0]]
    assert np.linalg.norm(np.cross(corners[1] - corners[0], corners[2] - corners[0])) == pytest.approx(1.0)
    assert faces.shape == ({"mesh.obj": 1, "mesh.ply": 2}[file], 3)


@pytest.mark.behaviour
def test_a_file_too_large_is_not_opened_any_further(tmp_path):
    path = tmp_path / "large.obj"
    with path.open("wb") as stream:
        stream.write(TRIANGLE.encode())
        stream.truncate(5_000_000_000)  # a hole: it takes no room on the disk
    with pytest.raises(DesignError, match="trim or thin it") as refused:
        read_triangles(path, most_faces=50)
    assert refused.value.problems[0].code == "scan-too-large"


@pytest.mark.behaviour
def test_a_file_with_odd_normals_is_read_without_a_word(tmp_path):
    """In a process of its own: where nobody listens, Python prints what libraries log, tracebacks and all."""
    path = tmp_path / "odd.stl"
    corners = "vertex 0 0 0\nvertex 1 0 0\nvertex 0 1 0\n"
    path.write_text(f"solid one\nfacet normal up\nouter loop\n{corners}endloop\nendfacet\nendsolid one\n")
    asked = "import sys, pathlib; from canvas.geometry.meshfile import read_triangles as read; "
    asked += "print(len(read(pathlib.Path(sys.argv[1]), most_faces=9)[1]))"
    done = subprocess.run([sys.executable, "-c", asked, path], capture_output=True, text=True, check=False, cwd=ROOT)
    assert (done.stdout, done.stderr, done.returncode) == ("1\n", "", 0)
