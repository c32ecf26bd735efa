"""The bench screen: the whole job in a browser next to the machine. Thin: it calls the rooms below and shows."""
