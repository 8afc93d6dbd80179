"""The invoice of a job: lines, taxes and totals by EN 16931, and whether it may be issued. It gives no tax advice."""
