"""What the terminal shows: tables, progress and messages (no arithmetic)."""
