"""The cockpit canvas aid: shade, rain, wind at the vane, loads and flat patterns for a yacht's cockpit canvas.

Computes: nothing itself; the folders below are the layers, see DEVELOPERS.md.
Units: metres, seconds, pascals, radians inside.
Source: none.
Limits: a ranking and planning aid; not cut-ready without a fitting piece.
"""
