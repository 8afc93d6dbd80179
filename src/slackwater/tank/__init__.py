"""The shape of the tank: volumes, levels, glass, floor and carrying loads."""
