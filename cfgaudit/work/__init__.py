"""What is done with a craft: mend, confirm, carry, upgrade, allot, and the list for the bench."""
