"""Pictures to look at: larger views and cuts at full size, made when a report is written."""
