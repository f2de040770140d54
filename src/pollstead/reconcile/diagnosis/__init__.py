"""What an entered number most likely is: a reading error, another thing's number, or none that is known."""
