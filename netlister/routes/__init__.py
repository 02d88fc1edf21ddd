"""Where trains can run, and in which states."""
