"""Opening the dashboard to the workshop's network: passphrase, door, one-time links."""
