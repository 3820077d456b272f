"""Run long work: progress, stopping, cache keys, whole-file writing, a local pool.

Computes: nothing about boats.
Units: any.
Source: see the modules.
Limits: see the modules.
"""
