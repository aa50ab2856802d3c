"""Planning for hand-formed sheet metal: blanks, nesting, bending and layout from one job file."""

__version__ = "0.1.0"
