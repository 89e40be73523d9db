"""Where things lie in an archive, and the data format that is known here.

They belong to audit.archive and audit.report, whose modules load pandas, which a season has no need of; a
test holds the two together.
"""

KNOWLEDGE, PICTURES = "data/knowledge", "data/pictures"
TABLE, FINDINGS, KIT = f"{KNOWLEDGE}/frames.parquet", f"{KNOWLEDGE}/findings.json", f"{KNOWLEDGE}/kit.toml"
MANIFEST = "manifest-sha512.txt"
SCHEMA_VERSION = 1
