"""Compute sun, sky, ultraviolet, daylight and rain on each place.

Computes: shares of places.
Units: watts a square metre, radians.
Source: see the modules.
Limits: see the modules.
"""
