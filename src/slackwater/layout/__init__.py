"""What stands in the tank: the soil bed."""
