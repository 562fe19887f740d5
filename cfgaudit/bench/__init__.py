"""What is done at the bench: the build sheet to be filled in."""
