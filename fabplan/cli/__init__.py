"""The command line: one thin function a command."""

from __future__ import annotations

from fabplan.cli.commands import app, main

__all__ = ["app", "main"]
