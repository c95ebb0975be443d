"""One skull for its owner: its looks side by side, and its page."""
