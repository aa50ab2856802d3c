"""The lattice laid on a slope."""
