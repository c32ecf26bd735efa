"""From parts on the bench to ducts, volumes and joints in flat arrays."""
