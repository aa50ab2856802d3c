"""Replays a bend schedule from scratch; imports no solver."""
