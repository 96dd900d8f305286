"""Pages of text and their charts, made from templates."""
