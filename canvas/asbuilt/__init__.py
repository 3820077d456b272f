"""Bend marks and panels to what was measured on board.

Computes: marks and panels.
Units: metres.
Source: see the modules.
Limits: see the modules.
"""
