"""Reserve: what is bought beyond the expected need, so that it is enough with a stated chance."""
