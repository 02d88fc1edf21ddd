"""Wirings that are proposed."""
