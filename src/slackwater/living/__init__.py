"""Everything alive: how long it may wait, whether it can go back, and the weeks after."""
