"""Read drawings with FreeCAD, headless, and write down what it saw: run by FreeCAD's own Python, not by ours.

Computes: by layer, the number and length of lines, the areas inside closed outlines, points, and all texts.
Units: the drawing's own.
Source: FreeCAD's importer in C++, lines of one layer kept together.
Limits: FreeCAD spells layers as names of its own: all but letters and digits, and a digit in front, become "_".

Run: freecadcmd freecad_read.py, with CANVAS_DRAWINGS naming drawings and CANVAS_READ the JSON file to write.
"""

import json
import os

import FreeCAD
import Import
import Part

DRAFT = "User parameter:BaseApp/Preferences/Mod/Draft"
kept = FreeCAD.ParamGet(DRAFT)
for switch, on in {"groupLayers": True, "dxftext": True, "dxflayout": False}.items():
    kept.SetBool(switch, on)
kept.SetFloat("dxfScaling", 1.0)

found = {}
for path in os.environ["CANVAS_DRAWINGS"].split(os.pathsep):
    document = FreeCAD.newDocument("drawing")
    Import.readDXF(path, document.Name, True, DRAFT)
    layers = {}
    for one in document.Objects:
        shape = getattr(one, "Shape", None)
        if shape is None:
            continue
        wires = [Part.Wire(edges) for edges in Part.sortEdges(shape.Edges)]
        ends = len(shape.Edges) and sum(len(edge.Vertexes) for edge in shape.Edges)
        layers[one.Name] = {
            "length": sum(edge.Length for edge in shape.Edges),
            "areas": [Part.Face(wire).Area for wire in wires if wire.isClosed()],
            "around": [wire.Length for wire in wires if wire.isClosed()],
            "curved": sum(type(edge.Curve).__name__ != "Line" for edge in shape.Edges),
            "points": len(shape.Vertexes) - ends,
        }
    texts = [" ".join(one.LabelText) for one in document.Objects if one.TypeId == "App::Annotation"]
    found[path] = {"layers": layers, "texts": texts}
    FreeCAD.closeDocument(document.Name)

with open(os.environ["CANVAS_READ"], "w", encoding="utf-8") as stream:
    json.dump(found, stream)
