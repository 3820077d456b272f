"""Compare variants, sweeps and passages.

Computes: tables over variants.
Units: as the results it gathers.
Source: see the modules.
Limits: see the modules.
"""
