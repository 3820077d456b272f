"""The design file's records: base quantities, boat, rig, voyage, and the design that holds them.

Computes: nothing.
Units: SI and radians after reading.
Source: defaults in tables/defaults.toml.
Limits: see the modules.
"""
