"""What the tool answers: plain functions that return finished values."""
