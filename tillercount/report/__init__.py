"""What is handed over: pages and pictures."""
