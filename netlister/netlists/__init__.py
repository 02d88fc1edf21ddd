"""Netlists read: what was drawn with the symbols of `netlister symbols`, or wired in a script, becomes a layout."""
