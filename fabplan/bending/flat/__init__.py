"""Flat pieces at the bench: which edge next, with which tool, which side up."""
