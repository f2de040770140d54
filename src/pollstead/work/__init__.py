"""Long jobs: in line, run by a child process, watched, cancelled, found again after a crash."""
