"""What the Bench page is made of: what was asked, what is shown, what is done."""
