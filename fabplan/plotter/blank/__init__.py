"""Pictures of blanks, finished pieces and templates."""
