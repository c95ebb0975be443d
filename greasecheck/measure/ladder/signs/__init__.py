"""Signs of what spoils a ladder's picture, each judged by its limit."""
