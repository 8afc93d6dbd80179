"""What to order, prepare, bring, throw away and charge."""
