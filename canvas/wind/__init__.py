"""Compute the wind at the vane's air blade: line of sight, wake estimate, flow.

Computes: speed ratios.
Units: metres a second, radians.
Source: see the modules.
Limits: see the modules.
"""
