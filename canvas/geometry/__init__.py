"""Build the boat from its marks: tubes, hull, solids, sails, panel outlines, and the Scene that all rays meet.

Computes: closed meshes and outlines.
Units: metres, boat frame.
Source: see the modules.
Limits: see the modules.
"""
