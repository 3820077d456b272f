"""Check headroom, look-out, clearances, ways out and handling.

Computes: checks with margins.
Units: metres.
Source: see the modules.
Limits: see the modules.
"""
