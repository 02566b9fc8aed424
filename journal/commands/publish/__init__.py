"""Out into the world: the site, looked through file by file, then sent to a folder or a branch."""
