"""Layouts priced whole: metal and work together."""
