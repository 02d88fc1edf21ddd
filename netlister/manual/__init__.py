"""The manual: pages by hand in Markdown beside this file, others made of their source, and the site of all."""
