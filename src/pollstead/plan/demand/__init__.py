"""In-person voters per site and quarter hour, with a range."""
