"""Today's list, water changes, entries taken back."""
