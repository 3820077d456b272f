"""Read, check and save the design file, and hold the tables of defaults.

Computes: the model of one boat as the crew wrote it.
Units: metres, seconds, radians after reading.
Source: see the modules.
Limits: see the modules.
"""
