"""The day: activities, clocks, schedule, check, and why it does not fit."""
