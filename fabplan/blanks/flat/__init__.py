"""Plane work shared by the kinds: bends, corners, notches, folding and unfolding."""
