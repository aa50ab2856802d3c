"""The drawing board: marks, labels, dimensions, painters."""
