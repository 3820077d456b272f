"""Take what was measured on a mock-up or on finished canvas back into the model.

Computes: panels bent to their readings.
Units: metres, boat frame.
Source: see the modules.
Limits: see the modules.
"""
