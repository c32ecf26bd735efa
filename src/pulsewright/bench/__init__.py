"""What a person can hold: the parts of an engine on the bench, and the sheet that lists them."""
