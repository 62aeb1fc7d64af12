"""Formulas of the trade, each with its range and its source; numbers in, numbers out.

A quantity outside the range of a formula raises OutOfRangeError: the answer is then "not known".
"""
