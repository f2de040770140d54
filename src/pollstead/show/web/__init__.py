"""The web app."""
