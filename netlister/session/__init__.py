"""Sessions: a layout that is changed, and of which only what a change touches is proved again."""
