"""One module a check; each has `examine(ask)`, which returns its results for one set.

Computes: nothing here; the order of the checks stands in canvas/fit/table.py.
Units: metres, seconds, shares 0..1.
Source: see the modules.
Limits: see the modules.
"""
