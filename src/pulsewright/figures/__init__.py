"""Pictures: the echo in the pipe, torque and mixture over engine speed, shares of the causes."""
