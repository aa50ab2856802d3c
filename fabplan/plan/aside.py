"""What the process beside a plan loads while the job is being read."""

from __future__ import annotations

import fabplan.bending.check
import fabplan.bending.schedule
import fabplan.blanks.check
import fabplan.nesting.planned
import fabplan.plan.make
import fabplan.roof.check
import fabplan.roof.check_parts  # noqa: F401
