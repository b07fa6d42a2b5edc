"""One function per bench action: the only place where rooms meet. Prints nothing."""
