"""Charts for print and for pages without script."""
