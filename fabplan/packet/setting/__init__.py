"""Type: fonts, page estimates, the typesetter."""
