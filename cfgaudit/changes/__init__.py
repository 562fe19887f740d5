"""What differs between sets of settings: diff, compare, and putting changes to use."""
