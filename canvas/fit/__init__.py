"""Check headroom, look-out, clearances, ways out and handling.

Computes: for each set, checks with value, limit, margin, standard deviation and verdict (canvas/fit/table.py).
Units: metres, seconds, shares 0..1.
Source: see the modules.
Limits: see the modules.
"""
