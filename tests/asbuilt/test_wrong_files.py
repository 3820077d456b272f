"""Scans and photographs that are wrong end in words that say what to do, and leave all that was there as it was."""

from __future__ import annotations

import hashlib
import io
import json
import shutil
import struct
import zipfile
import zlib

import numpy as np
import pytest
from typer.testing import CliRunner

from canvas.cli import app
from tests.asbuilt import scans

cv2 = pytest.importorskip("cv2")

PLY = "ply\nformat binary_little_endian 1.0\nelement vertex {n}\nproperty float x\nproperty float y\nproperty float z\n"
FACES = "element face {m}\nproperty list uchar int vertex_indices\nend_header\n"


def ply(vertices, faces):
    head = (PLY.format(n=len(vertices)) + FACES.format(m=len(faces))).encode()
    rows = b"".join(struct.pack("<B3i", 3, *face) for face in faces)
    return head + np.asarray(vertices, dtype="<f4").tobytes() + rows


def net(count=12):
    x, y = np.meshgrid(np.arange(count), np.arange(count))
    vertices = np.c_[x.ravel(), y.ravel(), np.zeros(count**2)].astype(float)
    corner = (np.arange(count - 1)[:, None] * count + np.arange(count - 1)).ravel()
    faces = np.vstack(
        [np.c_[corner, corner + 1, corner + count], np.c_[corner + 1, corner + count + 1, corner + count]]
    )
    return vertices, faces.tolist()


def all_nan():
    vertices, faces = net()
    return ply(np.full_like(vertices, np.nan), faces)


def endless():
    vertices, faces = net()
    vertices[::2] = np.inf
    return ply(vertices, faces)


def zip_bomb():
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("scan.ply", b"\0" * 20_000_000)
    return stream.getvalue()


def picture_bomb(side=60_000):
    """Return a PNG of some kilobytes that promises 3,600 million pixels."""

    def chunk(kind, content):
        return struct.pack(">I", len(content)) + kind + content + struct.pack(">I", zlib.crc32(kind + content))

    size = struct.pack(">IIBBBBB", side, side, 8, 0, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n"
        + chunk(b"IHDR", size)
        + chunk(b"IDAT", zlib.compress(b"\0" * 1_000_000))
        + chunk(b"IEND", b"")
    )


def jpeg_bomb():
    small = cv2.imencode(".jpg", np.zeros((16, 16), np.uint8))[1].tobytes()
    at = small.index(b"\xff\xc0")
    return small[: at + 5] + struct.pack(">HH", 60_000, 60_000) + small[at + 9 :]


SCANS = {
    "empty.ply": (b"", "empty"),
    "no-triangles.ply": ((PLY.format(n=0) + FACES.format(m=0)).encode(), "triangles"),
    "nan.ply": (all_nan(), "not numbers"),
    "endless.ply": (endless(), "not numbers"),
    "letter.docx": (b"hello there", "docx"),
    "picture.glb": (b"\xff\xd8\xff\xe0" + b"\0" * 100, "JPEG"),
    "cloud.ply": (b"LASF" + b"\0" * 300, "LAS"),
    "bomb.ply": (zip_bomb(), "zip"),
    "huge.stl": (b"\0" * 80 + struct.pack("<I", 80_000_000) + b"\0" * 500, "promises"),
}
PHOTOS = {
    "none": ({}, "no photographs"),
    "something else": ({"a.png": None, "b.png": None}, "no target"),
    "no pictures": ({"a.jpg": b"no picture at all", "b.png": b""}, "no picture"),
    "zip bomb": ({"a.jpg": zip_bomb()}, "no picture"),
    "picture bomb": ({"a.png": picture_bomb()}, "promises 3600 million"),
    "jpeg bomb": ({"a.jpg": jpeg_bomb()}, "promises 3600 million"),
    "phone's own kind": ({"a.jpg": b"\0\0\0\x18ftypheic" + b"\0" * 50}, "HEIC"),
}


def digest(folder):
    return {str(p): hashlib.sha256(p.read_bytes()).hexdigest() for p in sorted(folder.rglob("*")) if p.is_file()}


@pytest.fixture
def boat(tmp_path):
    """Return a design with an earlier result beside it, and a list of picked points."""
    shutil.copy(scans.ROOT / "examples" / "marrowgrass.toml", tmp_path / "marrowgrass.toml")
    out = tmp_path / "out"
    out.mkdir()
    for name in ("marrowgrass-scanned.toml", "marrowgrass-scanned.ply", "marrowgrass-photographed.toml"):
        (out / name).write_bytes(b"what an earlier run found")
    names = ("winch_port", "winch_stbd", "bimini_aft_port", "bimini_aft_stbd")
    (tmp_path / "picked.csv").write_text("".join(f"{n},{k},{k * k},{k % 2}\n" for k, n in enumerate(names)))
    return tmp_path


def refused(words, boat, *, says, file):
    """Run a verb twice, for people and as JSON: it must say what is wrong and what to do, and change nothing."""
    before = digest(boat)
    said = CliRunner().invoke(app, words)
    assert said.exit_code == 2
    assert says in said.output
    assert file in said.output
    assert "Traceback" not in said.output
    record = json.loads(CliRunner().invoke(app, [*words, "--json"]).stdout)
    assert record["sets"] == []
    assert all(one["found"] and one["wanted"] for one in record["problems"])
    assert any(says in one["found"] for one in record["problems"])
    assert digest(boat) == before


@pytest.mark.behaviour
@pytest.mark.parametrize("name", SCANS)
def test_scan_that_cannot_be_used_is_named_and_nothing_is_lost(name, boat):
    content, says = SCANS[name]
    (boat / name).write_bytes(content)
    words = ["scan", str(boat / "marrowgrass.toml"), str(boat / name), "--points", str(boat / "picked.csv")]
    refused([*words, "-o", str(boat / "out")], boat, says=says, file=name)


@pytest.mark.behaviour
@pytest.mark.parametrize("what", PHOTOS)
def test_photographs_that_cannot_be_used_are_named_and_nothing_is_lost(what, boat):
    files, says = PHOTOS[what]
    folder = boat / "photos"
    folder.mkdir()
    for k, (name, content) in enumerate(files.items()):
        if content is None:
            cv2.imwrite(str(folder / name), np.random.default_rng(k).integers(0, 255, (600, 800), np.uint8))
        else:
            (folder / name).write_bytes(content)
    words = ["photo", str(boat / "marrowgrass.toml"), str(folder), "-o", str(boat / "out")]
    refused(words, boat, says=says, file=next(iter(files), ""))


@pytest.mark.behaviour
def test_scan_of_something_else_is_named(boat):
    """A sound mesh of no cockpit, its points picked at random."""
    vertices, faces = net(60)
    (boat / "table.ply").write_bytes(ply(0.05 * vertices, faces))
    names = scans.boat("marrowgrass").model.marks.names[:8]
    spots = np.random.default_rng(1).uniform(0, 2.9, (8, 2))
    (boat / "picked.csv").write_text("".join(f"{n},{x},{y},0\n" for n, (x, y) in zip(names, spots, strict=True)))
    words = ["scan", str(boat / "marrowgrass.toml"), str(boat / "table.ply"), "--points", str(boat / "picked.csv")]
    refused([*words, "-o", str(boat / "out")], boat, says="picked points lie", file="table.ply")
