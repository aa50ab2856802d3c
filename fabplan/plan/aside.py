"""What the process beside a plan loads while the job is being read."""

from __future__ import annotations
