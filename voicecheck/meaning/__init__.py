"""What a sequence of words may mean: patterns of words, and networks made of them.

Knows no aircraft and no language: it is given patterns by the keys of callouts.
"""
