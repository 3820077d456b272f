"""Count what to buy: cloth, zips, thread, fastenings, weight, cost, sewn life.

Computes: quantities.
Units: metres, square metres, kilograms.
Source: see the modules.
Limits: see the modules.
"""
