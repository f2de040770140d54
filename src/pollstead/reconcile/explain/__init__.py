"""What single mistakes, alone or two together, would explain the differences of a site: working notes.

`terms` has the values, `odds` the priors in use, ``search.explain(night, odds)`` finds the explanations.
"""
