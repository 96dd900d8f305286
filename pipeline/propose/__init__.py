"""A programme proposed from the files of a utility: what each column means, and what only a person can answer."""
