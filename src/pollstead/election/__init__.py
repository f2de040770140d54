"""What a county is: sites, station types, fleet, calendar and rules, as frozen values."""
