"""Give away what is on the screen: a page that opens offline, or the shape as GLB.

Computes: files from the stage.
Units: metres.
Source: trame-vtk's own offline page; glTF 2.0 by trimesh.
Limits: seats keep the colours they have now; the picture of the screen is taken by the browser.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

import numpy as np
import trimesh
from aiohttp import web

from viewer.stage import Stage

if TYPE_CHECKING:
    from viewer.app import Viewer

ELSEWHERE = re.compile(r"https://[^\s\"'`]+favicon[^\s\"'`]*")  # icons that the page's own script would fetch


def offline_page(viewer: Viewer) -> bytes:
    """Return the scene as one HTML page that asks nobody for anything."""
    text = viewer.view.export_html().decode("utf-8")
    return ELSEWHERE.sub("data:,", text).encode("utf-8")


def glb(stage: Stage) -> bytes:
    """Return the boat with its canvas as binary glTF, y up as that has it."""
    scene = trimesh.Scene()
    for surface in stage.surfaces():
        colour = np.array(trimesh.visual.color.hex_to_rgba(stage.colour(surface)))
        mesh = trimesh.Trimesh(np.array(surface.vertices), np.array(surface.faces), process=False)
        mesh.visual = trimesh.visual.ColorVisuals(mesh, face_colors=np.tile(colour, (len(mesh.faces), 1)))
        scene.add_geometry(mesh, node_name=surface.name, geom_name=surface.name)
    scene.apply_transform(trimesh.transformations.rotation_matrix(-np.pi / 2, [1, 0, 0]))
    return bytes(scene.export(file_type="glb"))


def routes(viewer: Viewer) -> list[Any]:
    """Return the addresses from which files are taken."""

    async def page(_: web.Request) -> web.Response:
        return _file(offline_page(viewer), "scene.html", "text/html")

    async def shape(_: web.Request) -> web.Response:
        return _file(glb(viewer.stage), "scene.glb", "model/gltf-binary")

    return [web.get("/take/scene.html", page), web.get("/take/scene.glb", shape)]


def _file(content: bytes, name: str, kind: str) -> web.Response:
    heads = {"Content-Disposition": f'attachment; filename="{name}"'}
    return web.Response(body=content, content_type=kind, headers=heads)
