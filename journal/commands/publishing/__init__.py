"""The three places that a site is sent to: a folder, a branch of a git remote, a folder on a server (SFTP)."""
