"""cornerstop: audits a landscape photographer's dump against the filters that were worn."""

__version__ = "0.1.0"
