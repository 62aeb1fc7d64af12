"""Learning: the causal model run forward, from what is done to what comes out."""
