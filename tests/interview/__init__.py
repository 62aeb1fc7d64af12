"""Tests of the interview, and the measure of how much it finds out with how many questions."""
