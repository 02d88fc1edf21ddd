"""Edits of the text of a layout file."""
