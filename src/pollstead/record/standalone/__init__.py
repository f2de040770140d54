"""A verifier that needs nothing of this package: ``verify.py`` goes along with every export."""
