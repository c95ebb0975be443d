"""Path-traced photographs of an invented degreasing season, and the script that makes them."""
