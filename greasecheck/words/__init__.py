"""Words for people: what other layers found, worded once for terminal, phone and page."""
