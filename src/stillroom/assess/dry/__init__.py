"""Drying judged: where it ends, how long it takes, how the wettest piece stands."""
