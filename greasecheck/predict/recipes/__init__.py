"""Which recipe leaches faster, by how much, how sure."""
