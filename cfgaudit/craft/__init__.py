"""The vocabulary of settings and the typed craft that is made of them."""
