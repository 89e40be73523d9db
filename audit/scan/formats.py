"""Which formats and file endings hold a finished picture; all others are raws."""

DEVELOPED = ("JPEG", "HEIF", "TIFF", "PNG", "WebP", "AVIF", "JPEG 2000", "JPEG XL")
"""The best known first."""
CAMERA_ENDINGS = ("jpg", "jpeg", "jpe", "tif", "tiff", "heic", "heif", "hif")
"""In lower case, without the dot."""
EXPORT_ENDINGS = ("png", "webp", "avif", "jp2", "jpx", "jpf", "j2k", "j2c", "jpc", "jxl")
"""Formats in which programs save all sorts of pictures: a photograph only with exposure data in it."""
DEVELOPED_ENDINGS = CAMERA_ENDINGS + EXPORT_ENDINGS
