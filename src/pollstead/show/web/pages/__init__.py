"""One module a page: what it shows as one frozen value, how that is made, which routes lead there."""
