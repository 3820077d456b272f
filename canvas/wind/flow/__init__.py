"""Solve the air flow over boat and canvas by lattice Boltzmann on nested grids.

Computes: time series of air velocity at the blade, mean flow, loads on panels; see the modules.
Units: metres, seconds and pascals outside; inside the solver lattice units (cell, step, density 1).
Source: see the modules.
Limits: air at low Mach number; the sea is flat.
"""
