"""A bench that is simulated: instruments on loopback around a supply with something hidden."""
