"""The one catalog of sentences: findings, remedies, steps and cautions become plain language here, at the edge."""
