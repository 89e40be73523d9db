"""The errors that are the user's to mend: one clear line each."""


class AuditError(Exception):
    """Something the user can mend: says what, in which file or key, and what to do."""
