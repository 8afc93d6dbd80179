"""How much water, from where, what is in it, and how long it takes."""
