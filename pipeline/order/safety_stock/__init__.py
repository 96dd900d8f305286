"""Safety stock: how many bags beyond the expected need to hold, for a stated service level."""
