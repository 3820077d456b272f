"""Compute loads on cloth, edges, ties and tubes, and ponding.

Computes: forces and limits.
Units: newtons, pascals.
Source: see the modules.
Limits: see the modules.
"""
