"""What ``kerfbook rehearse`` shows and writes."""
