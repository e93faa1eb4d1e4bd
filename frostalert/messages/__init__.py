"""What is said: notices as mail, text, calendar and links."""
