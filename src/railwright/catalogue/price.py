"""Classes of price: what one piece, or a metre of wire, costs a builder, to a factor of about two.

They compare designs and never replace a quotation. Ranges and the class of each part: prices of one
piece at distributors in the twenties of this century, from memory.
"""

CLASSES = (
    "to 0.1 €",
    "0.1 to 0.3 €",
    "0.3 to 1 €",
    "1 to 3 €",
    "3 to 10 €",
    "10 to 30 €",
    "30 to 100 €",
)
"""In order; each is about three times the one before."""
