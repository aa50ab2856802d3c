"""Proves a roof plan again from the job; imports no layout."""
