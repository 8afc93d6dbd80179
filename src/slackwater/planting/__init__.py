"""Which plant where and how many: zones of the bed, what plants need, pots by area and budget, order of planting."""
