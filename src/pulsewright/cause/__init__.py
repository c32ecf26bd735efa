"""Where a loss of torque comes from: switches in the model, evidence in the pulls, and both together."""
