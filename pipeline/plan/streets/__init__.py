"""The road segments as a network: where lines meet, and the shortest paths along them."""
