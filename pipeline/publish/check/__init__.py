"""What was understood of the inputs, as a page and as text."""
