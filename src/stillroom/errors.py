"""Errors that speak to the person who typed: what is wrong, where, and what would be right."""


class StillroomError(Exception):
    """Any error whose message is meant to be read by a user."""


class InputError(StillroomError):
    """A recipe, a file, a name or a value that cannot be used as it stands."""


class TableError(StillroomError):
    """A row of a data table that cannot be used as it stands."""
