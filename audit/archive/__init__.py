"""The archive: a bag (RFC 8493) of the pictures and what is known of them."""
