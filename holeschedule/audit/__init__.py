"""Rules, and holding the holes of a part against them."""
