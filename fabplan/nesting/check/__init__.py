"""Proves a cut plan again from the job; imports no solver."""
