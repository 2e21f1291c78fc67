"""What was measured, in the words and rows that every screen and page shows."""
