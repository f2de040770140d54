"""Which of a site's expected calls came, which did not, and whom to call next."""
