"""Describe wind: the sea state, apparent wind, and the profile with height.

Computes: pure numbers.
Units: metres a second, radians.
Source: see the modules.
Limits: see the modules.
"""
