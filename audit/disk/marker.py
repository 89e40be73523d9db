"""The file by which the scan knows, and the report may replace, a folder of our own output."""

OUTPUT_MARKER = ".cornerstop-output"
