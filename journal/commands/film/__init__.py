"""What a builder's film of a day needs: a strip to lay over it, a title card, a text for its description."""
