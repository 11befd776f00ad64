"""How a ferment is judged: the race to the acid, its end, and what it is held against."""
