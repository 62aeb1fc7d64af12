"""Invented batches with known truth, to try the bottling check and the rules of thumb on."""
