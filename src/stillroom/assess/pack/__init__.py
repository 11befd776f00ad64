"""Packed products against the moisture of the room: how long their water activity holds."""
