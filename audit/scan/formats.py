"""Which formats and file endings hold a finished picture; all others are raws."""

DEVELOPED = ("JPEG", "HEIF", "TIFF")
"""The best known first."""
DEVELOPED_ENDINGS = ("jpg", "jpeg", "jpe", "tif", "tiff", "heic", "heif", "hif")
"""In lower case, without the dot."""
