"""The page that the customer takes home."""
