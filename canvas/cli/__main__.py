"""Start the command line as `python -m canvas.cli`.

Computes: nothing.
Units: as people type them; see `canvas.design.units`.
Source: none.
Limits: none.
"""

from __future__ import annotations

from canvas.cli import main

main()
