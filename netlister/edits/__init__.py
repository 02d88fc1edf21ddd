"""Changes of a layout as values: applied to the layout, to its circuit, and to the text of its file."""
