"""Tubs that only judge: no number of the tool may be chosen by what is measured on them."""
