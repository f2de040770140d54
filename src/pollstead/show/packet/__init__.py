"""Site packets on paper: what each sheet says, and one PDF for the packet, another for what is expected."""
