"""The errors that are the user's to mend: one clear line each."""


class AuditError(Exception):
    """Something the user can mend: says what, in which file or key, and what to do."""


class Interrupted(AuditError):
    """The user stopped the run; nothing half-written is left."""
