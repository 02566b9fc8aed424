"""What listens on a network: the server, who is let in, what every request must be."""
