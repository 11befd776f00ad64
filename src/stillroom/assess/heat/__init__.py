"""The judgement of heat: targets, resistance, what a pack reaches and what that leaves."""
