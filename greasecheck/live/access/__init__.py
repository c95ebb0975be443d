"""Who may ask, and forms that are carried out once."""
