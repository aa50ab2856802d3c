"""Proves flat patterns again from the job; imports no development."""
