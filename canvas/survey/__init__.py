"""Turn tape readings into marks with their covariance, and name the blunders.

Computes: marks.
Units: metres.
Source: see the modules.
Limits: see the modules.
"""
