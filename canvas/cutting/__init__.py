"""Make flat patterns: flattening, allowances, marks, nesting, and the files a maker cuts from.

Computes: flat parts.
Units: metres.
Source: see the modules.
Limits: see the modules.
"""
