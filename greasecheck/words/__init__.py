"""Words for people: what the layers below found, said for terminal, phone and page alike."""
