"""Solve cloth: form-finding and elastic membranes with edge cables and battens.

Computes: shapes of panels.
Units: metres, newtons.
Source: see the modules.
Limits: see the modules.
"""
