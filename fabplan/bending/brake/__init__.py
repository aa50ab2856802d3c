"""Sections on the leaf brake: the tool in section, which bend next, what is hit, the strokes."""
