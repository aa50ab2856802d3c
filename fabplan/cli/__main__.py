"""`python -m fabplan.cli`."""

from __future__ import annotations

from fabplan.cli import main

main()
