"""The whole audit, by the name that scripts import."""

from audit.jobs.audit import audit

__all__ = ["audit"]
