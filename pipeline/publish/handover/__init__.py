"""What the road authority is handed."""
