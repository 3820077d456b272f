"""Draw and write: plots, drawings, sheets, the report and the maker's brief.

Computes: nothing; reads results and draws them.
Units: as printed.
Source: see the modules.
Limits: see the modules.
"""
