"""Pages of text made from templates, and their charts."""
