"""The browser viewer: see the boat and shape its canvas.

Computes: nothing; calls canvas and shows.
Units: the design's own on the screen.
Source: none.
Limits: see the modules.
"""
