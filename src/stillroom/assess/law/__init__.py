"""What the law says: decision rules, additive limits and product standards, as data and verdicts.

Answers are about the law only. Every answer carries its citation and how the figure was obtained;
what rests on memory is "to verify". A screening aid, not legal advice.
"""
