"""Light in the tank: from lamps and skylight through water, panes and shade to the bed and the leaves."""
