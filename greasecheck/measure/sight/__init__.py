"""The bars of the sight, wet and dry."""
