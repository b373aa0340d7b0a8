"""Plane geometry of lines and arcs; knows nothing of drawings."""
