"""The picture of the plan: plants with shape, wet stone and wood, a camera for each public side, and what draws them."""
