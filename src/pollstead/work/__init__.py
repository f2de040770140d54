"""Long jobs in a child process: progress, cancel, restart."""
