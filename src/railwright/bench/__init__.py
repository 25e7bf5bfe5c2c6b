"""The bench: captures of oscilloscopes, and what is read from them."""
