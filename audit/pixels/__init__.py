"""What the pictures show: small pictures of them, compared with each other."""
