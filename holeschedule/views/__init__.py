"""What people and other programs see: text, JSON, CSV."""
