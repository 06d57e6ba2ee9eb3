"""Pictures of finished results."""
