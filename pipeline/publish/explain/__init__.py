"""One core explained: the same document as text for a terminal and as a page that prints."""
