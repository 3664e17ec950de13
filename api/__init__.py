"""What touches the world: documents, the command line, the pages, the store."""
