"""What happens while people vote: incidents, lost minutes, jams, supplies, orders."""
