"""Teaching: a dialect worked out from dumps that none knows, learnt, tried and checked."""
