"""What each command besides ``audit`` does."""
