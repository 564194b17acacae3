"""Texbake."""
