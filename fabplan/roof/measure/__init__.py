"""Tape readings to slopes in true shape."""
