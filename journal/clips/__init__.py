"""Short films: what an original says of itself, and the clean copy that the site shows."""
