"""One file per check; each number is measured on the finished mesh."""
